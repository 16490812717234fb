import { describe, expect, test } from 'vitest'
import type { Component, Part, VehicleDocument, Zone } from '../../../server/engine/vehicle.ts'
import { battery, off, wiring } from '../solve/wiring.ts'
import { judged } from './judged.ts'

type Given = {
  readonly maxAmbient_degC?: number
  readonly zone?: Partial<Zone> | null
  readonly kind?: string
  readonly part?: Partial<Part>
}

/** A relay, or a part of another kind, in a zone; nothing is joined to it. */
const placed = ({ maxAmbient_degC, zone = {}, kind = 'relay', part = {} }: Given): VehicleDocument => {
  const document = wiring({ parts: { bat: battery(12.6, 0.01) }, joins: [], conditions: [off] })
  const ratings = maxAmbient_degC === undefined ? {} : { maxAmbient_degC }
  const it: Component = { key: 'it', name: 'Pump relay', part: 'it', ...(zone === null ? {} : { zone: 'bay' }) }
  return {
    ...document,
    ...(zone === null ? {} : { zones: [{ key: 'bay', name: 'Engine bay', ...zone }] }),
    parts: [...document.parts, { key: 'it', kind, name: 'it', ratings, ...part }],
    components: [...document.components, it],
  }
}
const of = (document: VehicleDocument) => judged(document, 'zone-heat', 'it')

describe('zone-heat', () => {
  // By hand: the zone's peak against the part's own limit, as they stand.
  test.each([
    [84, 'clear'],
    [85, 'clear'],
    [85.1, 'over'],
    [105, 'over'],
  ] as const)('a part for 85 °C where it gets %s °C', (peak_degC, verdict) => {
    const found = of(placed({ maxAmbient_degC: 85, zone: { peak_degC } }))
    expect([found?.verdict, found?.value, found?.limit, found?.unit]).toEqual([verdict, peak_degC, 85, '°C'])
    expect([found?.tightAbove, found?.overAbove, found?.missing]).toEqual([null, 1, []])
    expect(found?.used).toBeCloseTo(peak_degC / 85, 9)
    expect(found?.figures).toEqual({ 'hottest in its zone, °C': peak_degC, 'highest ambient of the part, °C': 85 })
  })

  // ISO 16750-4 code G ends at 85 °C (memory); SAE J1211 has 140 °C at the bulkhead of the engine bay (memory).
  test('a code G part at the bulkhead', () => {
    const found = of(placed({ maxAmbient_degC: 85, zone: { peak_degC: 140 } }))
    expect([found?.verdict, found?.says]).toEqual(['over', 'Pump relay is made for up to 85 °C; Engine bay reaches 140 °C.'])
    expect(found?.remedy).toBe('Move it to a cooler place, shield it, or fit a part rated for this one.')
  })

  test('the peak goes before the ambient, whichever is higher', () => {
    expect(of(placed({ maxAmbient_degC: 100, zone: { ambient_degC: 85, peak_degC: 105 } }))).toMatchObject({ verdict: 'over', value: 105 })
    expect(of(placed({ maxAmbient_degC: 100, zone: { ambient_degC: 105, peak_degC: 85 } }))).toMatchObject({ verdict: 'clear', value: 85 })
  })
  test('without a peak the ambient stands in', () => {
    expect(of(placed({ maxAmbient_degC: 80, zone: { ambient_degC: 85 } }))).toMatchObject({ verdict: 'over', value: 85 })
    expect(of(placed({ maxAmbient_degC: 85, zone: { ambient_degC: 85 } }))).toMatchObject({ verdict: 'clear', value: 85 })
  })
  // 0 °C is a temperature, not a missing one.
  test('a peak of 0 °C', () => {
    expect(of(placed({ maxAmbient_degC: 60, zone: { peak_degC: 0, ambient_degC: 70 } }))).toMatchObject({ verdict: 'clear', value: 0 })
  })

  test('the temperature not known: unknown, and named', () => {
    const found = of(placed({ maxAmbient_degC: 85, zone: {}, part: { evidence: { maxAmbient_degC: 'marked' } } }))
    expect([found?.verdict, found?.value, found?.missing, found?.evidence]).toEqual([
      'unknown',
      null,
      ['temperature of Engine bay'],
      'marked',
    ])
    expect(found?.says).toBe('Pump relay is made for up to 85 °C; how hot Engine bay gets is not known.')
  })
  test('its zone not recorded: unknown, and named', () => {
    const found = of(placed({ maxAmbient_degC: 85, zone: null }))
    expect([found?.verdict, found?.value, found?.missing]).toEqual(['unknown', null, ['its zone']])
    expect(found?.says).toBe('Pump relay is made for up to 85 °C; the zone it stands in is not recorded.')
  })

  test('the poorer grade is the evidence, and each temperature has its own', () => {
    const evidence = { ambient_degC: 'typical', peak_degC: 'measured' } as const
    const part = { evidence: { maxAmbient_degC: 'marked' } } as const
    const both = { ambient_degC: 60, peak_degC: 70 }
    expect(of(placed({ maxAmbient_degC: 85, zone: { ...both, evidence }, part }))?.evidence).toBe('measured')
    expect(of(placed({ maxAmbient_degC: 85, zone: { ambient_degC: 60, evidence }, part }))?.evidence).toBe('typical')
    expect(of(placed({ maxAmbient_degC: 85, zone: both, part }))?.evidence).toBe('assumed')
    expect(of(placed({ maxAmbient_degC: 85, zone: { ...both, evidence } }))?.evidence).toBe('assumed')
  })

  test.each(['conductor', 'fuse', 'battery', 'load', 'pump', 'hose', 'block', 'connector'])('a part of kind %s', (kind) => {
    expect(of(placed({ maxAmbient_degC: 85, zone: { peak_degC: 86 }, kind }))?.verdict).toBe('over')
  })

  test('a part that states no highest ambient is not judged', () => {
    expect(of(placed({ zone: { peak_degC: 140 } }))).toBeUndefined()
  })
})
