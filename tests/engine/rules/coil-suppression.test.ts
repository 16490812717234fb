/** Which coils want suppressing, and how (relay maker's note, text read): every pairing of a suppression with its neighbours. */
import { describe, expect, test } from 'vitest'
import type { Ratings, VehicleDocument } from '../../../server/engine/vehicle.ts'
import { battery, draws, off, ohms, type Parts, wiring } from '../solve/wiring.ts'
import { vehicle } from '../vehicle-builder.ts'
import { judged } from './judged.ts'

type Given = {
  readonly suppression?: string
  readonly load?: string | null
  readonly mate?: string | null
  /** where the mate hangs: on the coil's own fuse, ahead of it, or on none */
  readonly mateAt?: string
}
/** battery → main wire → fuse → coil; a mate beside the coil; the contact fed by the battery itself. */
const relay = ({ suppression, load = 'resistive', mate = null, mateAt = 'f:out' }: Given): VehicleDocument => {
  const nature = (one: string | null): Ratings => (one === null ? {} : { nature: one })
  return wiring({
    parts: {
      bat: battery(12, 0.01),
      w: ohms(0.01),
      f: ['fuse', { rated_A: 5, rated_V: 32, form: 'C' }],
      v: ohms(0.01),
      r: ['relay', { rated_V: 16, make_A: 40, ...(suppression === undefined ? {} : { suppression }) }],
      load: draws(1, nature(load)),
      mate: draws(1, nature(mate)),
    },
    joins: [
      'bat:+ > w:a',
      'w:b > f:in',
      'f:out > v:a',
      'v:b > r:86',
      'r:85 > bat:-',
      'bat:+ > r:30',
      'r:87 > load:+',
      'load:- > bat:-',
      `${mateAt} > mate:+`,
      'mate:- > bat:-',
    ],
    conditions: [off],
  })
}
const judge = (document: VehicleDocument, component = 'r') => judged(document, 'coil-suppression', component)

describe('beside electronics', () => {
  test('not suppressed: tight', () => {
    const found = judge(relay({ suppression: 'none', mate: 'electronic' }))
    expect(found).toMatchObject({ verdict: 'tight', value: null, limit: null, missing: [] })
    expect(found?.says).toBe('The coil of r is not suppressed and shares its feed with mate.')
    expect(found?.remedy).toBe('Fit a relay with a resistor or a Zener diode across its coil.')
  })
  test.each(['resistor', 'zener', 'diode'])('%s: clear', (suppression) => {
    const found = judge(relay({ suppression, mate: 'electronic' }))
    expect(found).toMatchObject({ verdict: 'clear', missing: [] })
    expect(found?.says).toBe('The coil of r is suppressed as its neighbours need.')
  })
  test('not known: unknown', () => {
    const found = judge(relay({ mate: 'electronic' }))
    expect(found).toMatchObject({ verdict: 'unknown', missing: ['coil suppression'] })
    expect(found?.says).toBe('How the coil of r is suppressed is not known.')
    expect(found?.remedy).toBe('Find out: coil suppression.')
  })
})

describe('with lamps or motors on its contact', () => {
  test.each(['lamp', 'motor'])('a plain diode and a %s: tight', (load) => {
    const found = judge(relay({ suppression: 'diode', load }))
    expect(found).toMatchObject({ verdict: 'tight' })
    expect(found?.says).toBe('The coil of r has a plain diode and its contact switches load.')
  })
  test.each(['resistor', 'zener', 'none'])('%s: clear', (suppression) => {
    expect(judge(relay({ suppression, load: 'lamp' }))?.verdict).toBe('clear')
  })
  test.each(['lamp', 'motor'])('not known, with a %s: unknown', (load) => {
    expect(judge(relay({ load }))).toMatchObject({ verdict: 'unknown', missing: ['coil suppression'] })
  })
  test.each(['resistive', 'inductive', 'electronic', null])('a diode and %s: clear', (load) => {
    expect(judge(relay({ suppression: 'diode', load }))?.verdict).toBe('clear')
  })
})

describe('who shares its feed', () => {
  test('lamps beside the coil do not mind', () => {
    expect(judge(relay({ suppression: 'none', mate: 'lamp' }))?.verdict).toBe('clear')
    expect(judge(relay({ suppression: 'none' }))?.verdict).toBe('clear')
  })
  test('electronics on the contact do not share the coil’s feed', () => {
    expect(judge(relay({ suppression: 'none', load: 'electronic' }))?.verdict).toBe('clear')
  })
  test('nor do those ahead of the coil’s own fuse', () => {
    expect(judge(relay({ suppression: 'none', mate: 'electronic', mateAt: 'w:b' }))?.verdict).toBe('clear')
  })
  test('the last fuse counts, not the first', () => {
    const document = relay({ suppression: 'none', mate: 'electronic', mateAt: 'w:b' })
    const main: Parts[string] = ['breaker', { rated_A: 30, rated_V: 32 }]
    const more = {
      parts: [...document.parts, { key: 'm', kind: main[0], name: 'm', ratings: main[1] }],
      components: [...document.components, { key: 'm', name: 'm', part: 'm' }],
      joins: [
        ...document.joins.filter((join) => join.from !== 'bat:+' || join.to !== 'w:a'),
        { from: 'bat:+', to: 'm:in' },
        { from: 'm:out', to: 'w:a' },
      ],
    }
    expect(judge({ ...document, ...more })?.verdict).toBe('clear')
    // With the breaker alone ahead of both they share it.
    const joins = more.joins.filter((join) => join.from !== 'w:b' && join.from !== 'f:out')
    const bare = [...joins, { from: 'w:b', to: 'v:a' }, { from: 'w:b', to: 'mate:+' }]
    expect(judge({ ...document, ...more, joins: bare })?.verdict).toBe('tight')
  })
  test('with no fuse, whatever hangs on its first wire', () => {
    const document = relay({ suppression: 'none', mate: 'electronic', mateAt: 'w:b' })
    const joins = [...document.joins.filter((join) => join.to !== 'f:in' && join.from !== 'f:out'), { from: 'w:b', to: 'v:a' }]
    expect(judge({ ...document, joins })?.verdict).toBe('tight')
    // Electronics on the battery's post itself share nothing but the battery.
    const apart = joins.map((join) => (join.to === 'mate:+' ? { from: 'bat:+', to: 'mate:+' } : join))
    expect(judge({ ...document, joins: apart })?.verdict).toBe('clear')
  })
  test('straight on the post there is no feed to share; a diode is as slow there', () => {
    const document = (suppression: string) =>
      wiring({
        parts: {
          bat: battery(12, 0.01),
          r: ['relay', { suppression }],
          load: draws(1, { nature: 'lamp' }),
          mate: draws(1, { nature: 'electronic' }),
        },
        joins: ['bat:+ > r:86', 'r:85 > bat:-', 'bat:+ > r:30', 'r:87 > load:+', 'load:- > bat:-', 'bat:+ > mate:+', 'mate:- > bat:-'],
        conditions: [off],
      })
    expect(judge(document('none'))).toBeUndefined()
    expect(judge(document('diode'))).toMatchObject({
      verdict: 'tight',
      says: 'The coil of r has a plain diode and its contact switches load.',
    })
  })
})

describe('nothing to judge', () => {
  test('how is not known, and nobody minds', () => {
    expect(judge(relay({}))).toBeUndefined()
    expect(judge(relay({ mate: 'lamp', load: 'electronic' }))).toBeUndefined()
  })
  test('the coil’s feed is not recorded', () => {
    const document = relay({ suppression: 'none', mate: 'electronic' })
    const joins = document.joins.filter((join) => join.to !== 'r:86' && join.from !== 'r:85')
    expect(judge({ ...document, joins })).toBeUndefined()
  })
})

test('evidence is that of the suppression', () => {
  const extraJoins = [
    { from: 'f1:out', to: 'r1:86' },
    { from: 'r1:85', to: 'bat:-' },
  ]
  const document = vehicle({ relay: { make_A: 30, rated_V: 16, suppression: 'zener' }, extraJoins })
  expect(judge(document, 'r1')).toMatchObject({ verdict: 'clear', evidence: 'datasheet' })
  expect(judge(relay({ suppression: 'zener' }))?.evidence).toBe('assumed')
})
