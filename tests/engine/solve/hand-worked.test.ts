/** Operating points worked by hand, each figure beside the formula it comes from. Long because it is one list of small circuits. */
import { describe, expect, test } from 'vitest'
import { sharesOf } from '../../../server/engine/branch.ts'
import type { Parts } from './wiring.ts'
import { battery, draws, off, ohms, pointOf, resists, running, wiring } from './wiring.ts'

// A held voltage stands behind 10 µΩ: at 60 A that is 0.6 mV, so volts of held sources are compared to 1 mV.
const MILLIVOLT = 1e-3
const near = (value: number, expected: number, within = 1e-6) => expect(Math.abs(value - expected)).toBeLessThanOrEqual(within)

describe('alternator', () => {
  const alternator = (more = {}): Parts[string] => ['alternator', { setPoint_V: 14.4, output_A: 100, idleOutput_A: 20, ...more }]
  const bus = ['alt:+ > lead:a', 'lead:b > bus:1', 'bat:+ > bus:2', 'load:+ > bus:3', 'load:- > bat:-', 'alt:- > bat:-']

  test('held at its own terminals: the lead costs what the load draws', () => {
    const at = pointOf(
      wiring({
        parts: { alt: alternator(), lead: ohms(0.01), bus: ['block', {}], bat: battery(12.6, 0.01), load: draws(50) },
        joins: bus,
        conditions: [running],
      }),
    )
    near(at.volts('alt:+'), 14.4, MILLIVOLT)
    near(at.volts('bus:1'), 13.9, MILLIVOLT) // 14.4 − 50·0.01
    near(at.amperes('lead'), 50)
    near(at.amperes('bat'), 0)
  })

  test('held, with the batteries taking 10 A', () => {
    const at = pointOf(
      wiring({
        parts: { alt: alternator(), lead: ohms(0.01), bus: ['block', {}], bat: battery(12.6, 0.01), load: draws(50) },
        joins: bus,
        conditions: [{ ...running, charge_A: 10 }],
      }),
    )
    near(at.amperes('lead'), 60) // 50 + 10
    near(at.volts('bus:1'), 13.8, MILLIVOLT) // 14.4 − 60·0.01
    near(at.amperes('bat'), 10) // into its positive post
    expect(at.circuit.conditions[0]?.alternators[0]?.regime).toBe('held')
  })

  test('held where it senses: its own terminals stand higher by the drop of the lead', () => {
    const at = pointOf(
      wiring({
        parts: { alt: alternator(), lead: ohms(0.01), bus: ['block', {}], bat: battery(12.6, 0.01), load: draws(50) },
        joins: [...bus, 'alt:sense > bus:4'],
        conditions: [running],
      }),
    )
    near(at.volts('bus:1'), 14.4)
    near(at.volts('alt:+'), 14.9) // 14.4 + 50·0.01
  })

  test('floating: it gives its limit, and what it holds up lies between the EMF and the set-point', () => {
    const at = pointOf(
      wiring({
        parts: { alt: alternator({ output_A: 40 }), lead: ohms(0.01), bus: ['block', {}], bat: battery(12.6, 0.01), load: resists(0.33) },
        joins: bus,
        conditions: [{ ...running, charge_A: 10 }],
      }),
    )
    const state = at.circuit.conditions[0]?.alternators[0]
    expect(state?.regime).toBe('floating')
    near(at.amperes('lead'), 40)
    near(at.volts('bus:1'), 13.2) // 40·0.33, above 12.6 and below 14.4; charge_A is shed
    near(at.volts('alt:+'), 13.6) // 13.2 + 40·0.01
    near(at.amperes('bat'), 0)
    // Unlimited at 14.4 V: 14.4 − I·0.01 = (I − 10)·0.33 → I = (14.4 + 3.3)/0.34 = 52.0588 A
    near(state?.wanted_A as number, 17.7 / 0.34, 2e-3)
  })

  /** 40 A of alternator, a battery of 12.6 V and 10 mΩ, another of 20 mΩ. */
  const withSecond = ({ emf_V, drawn_A }: { readonly emf_V: number; readonly drawn_A: number }) =>
    pointOf(
      wiring({
        parts: {
          alt: alternator({ output_A: 40 }),
          lead: ohms(0.01),
          bus: ['block', {}],
          bat: battery(12.6, 0.01),
          second: battery(emf_V, 0.02),
          load: draws(drawn_A),
        },
        joins: [...bus, 'second:+ > bus:4', 'second:- > bat:-'],
        conditions: [running],
      }),
    )

  test('discharging: its limit, and the batteries the rest by the inverse of their resistance', () => {
    const at = withSecond({ emf_V: 12.6, drawn_A: 100 })
    expect(at.circuit.conditions[0]?.alternators[0]?.regime).toBe('discharging')
    near(at.amperes('lead'), 40)
    near(at.amperes('bat'), -40) // 60 A · 0.02/(0.01 + 0.02), out of the positive post
    near(at.amperes('second'), -20) // 60 A · 0.01/0.03
    near(at.volts('bus:1'), 12.2) // 12.6 − 40·0.01
  })

  test('discharging: of two batteries the weaker takes nothing from the stronger', () => {
    const at = withSecond({ emf_V: 12, drawn_A: 50 })
    near(at.amperes('bat'), -10) // 50 − 40
    near(at.amperes('second'), 0) // 12.5 V on the bus is above its 12 V: it would absorb
    near(at.volts('bus:1'), 12.5) // 12.6 − 10·0.01
  })

  test('at idle the idle output is the limit', () => {
    const at = pointOf(
      wiring({
        parts: { alt: alternator(), lead: ohms(0.01), bus: ['block', {}], bat: battery(12.6, 0.01), load: draws(30) },
        joins: bus,
        conditions: [{ key: 'i', name: 'idle', engine: 'idle' }],
      }),
    )
    near(at.amperes('lead'), 20)
    near(at.amperes('bat'), -10) // 30 − 20
    near(at.volts('bus:1'), 12.5) // 12.6 − 10·0.01
  })
})

describe('a source at its limit', () => {
  test('an alternator with no battery to give the rest has no working point, and that is said', () => {
    // 20 A at idle, 30 A of constant-current loads, and the battery open: nothing can give the other 10 A.
    const at = pointOf(
      wiring({
        parts: { alt: ['alternator', { setPoint_V: 14.4, output_A: 100, idleOutput_A: 20 }], bat: battery(12.6, 0.01), load: draws(30) },
        joins: ['alt:+ > bat:+', 'alt:- > bat:-', 'bat:+ > load:+', 'load:- > bat:-'],
        conditions: [{ key: 'i', name: 'idle', engine: 'idle', open: ['bat'] }],
      }),
    )
    expect(at.shown.solved).toBe(false)
    expect(at.shown.faults.join()).toMatch(/alternator is at its limit/)
    expect(at.volts('load:+')).toBeNull()
  })

  test('a converter asked for more than its limit by a constant-current load', () => {
    const at = pointOf(
      wiring({
        parts: { bat: battery(12, 0.01), dc: ['converter', { output_V: 5, output_A: 2, efficiency: 0.9 }], load: draws(3) },
        joins: ['bat:+ > dc:in', 'dc:- > bat:-', 'dc:out > load:+', 'load:- > bat:-'],
      }),
    )
    expect(at.shown.solved).toBe(false)
    expect(at.volts('load:+')).toBeNull()
  })
})

describe('shares', () => {
  const shared = (conditions: readonly (typeof off)[], joins: readonly string[]) =>
    pointOf(
      wiring({
        parts: {
          bat: battery(12, 0.01),
          f: ['fuse', { rated_A: 10 }],
          w: ohms(0.1),
          v: ['switch', {}],
          load: draws(4),
          strap: ohms(0.01),
          body: ['chassis', {}],
        },
        joins: ['bat:+ > f:in', ...joins, 'body:1 > strap:a', 'strap:b > bat:-'],
        conditions,
      }),
    )

  test('of a fuse that the condition opens: none', () => {
    const at = shared([{ ...off, open: ['f'] }], ['f:out > w:a', 'w:b > load:+', 'load:- > body:2'])
    expect(sharesOf(at.circuit, 0, 'f').filter((share) => Math.abs(share.current_A) > 1e-9)).toEqual([])
  })

  test('of a conductor beside a way of no resistance: none', () => {
    const at = shared([off], ['f:out > w:a', 'w:b > load:+', 'f:out > v:in', 'v:out > load:+', 'load:- > body:2'])
    near(at.amperes('w'), 0)
    expect(sharesOf(at.circuit, 0, 'w').filter((share) => Math.abs(share.current_A) > 1e-9)).toEqual([])
  })

  test('of the strap by which a load of unrecorded return is taken to come back: the load', () => {
    const at = shared([off], ['f:out > w:a', 'w:b > load:+'])
    expect(sharesOf(at.circuit, 0, 'strap')).toEqual([{ load: 'load', current_A: expect.closeTo(4, 6), unknown: false }])
  })
})

describe('batteries', () => {
  const two = { one: battery(12.8, 0.01), two: battery(12.4, 0.02), link: ohms(0.01), load: draws(20) }
  const joins = ['one:+ > link:a', 'link:b > two:+', 'one:- > two:-', 'load:+ > one:+', 'load:- > one:-']

  test('of unequal EMF exchange current', () => {
    const at = pointOf(wiring({ parts: two, joins, conditions: [{ ...off, on: [] }] }))
    near(at.amperes('link'), 10) // (12.8 − 12.4)/(0.01 + 0.01 + 0.02)
    near(at.volts('one:+'), 12.7) // 12.8 − 10·0.01
    near(at.volts('two:+'), 12.6) // 12.4 + 10·0.02
    expect(sharesOf(at.circuit, 0, 'link')).toEqual([{ load: null, current_A: expect.closeTo(10, 6), unknown: false }])
  })

  test('the same with 20 A drawn beside the first: 5 A of them come through the link', () => {
    const at = pointOf(wiring({ parts: two, joins, conditions: [off] }))
    near(at.amperes('link'), 5) // 10 − 20·0.01/(0.01 + 0.03)
    const shares = new Map(sharesOf(at.circuit, 0, 'link').map((share) => [share.load, share.current_A]))
    near(shares.get('load') as number, -5, 1e-5)
    near(shares.get(null) as number, 10, 1e-5)
  })

  test('tied straight together at different voltages without a resistance are refused by name', () => {
    const at = pointOf(
      wiring({
        parts: { one: battery(12.8, 0), two: battery(12.4, 0), load: draws(1) },
        joins: ['one:+ > two:+', 'one:- > two:-', 'load:+ > one:+', 'load:- > one:-'],
      }),
    )
    expect(at.shown.solved).toBe(false)
    expect(at.shown.faults.join()).toMatch(/one and two/)
    expect(at.volts('one:+')).toBeNull()
  })
})

describe('converter', () => {
  const joins = ['bat:+ > in:a', 'in:b > dc:in', 'dc:- > bat:-', 'dc:out > load:+', 'load:- > bat:-']
  const dc: Parts[string] = ['converter', { output_V: 5, output_A: 10, efficiency: 0.9 }]

  test('holds its voltage, and draws its output power over its efficiency', () => {
    const at = pointOf(wiring({ parts: { bat: battery(12, 0.06), in: ohms(0.04), dc, load: draws(4) }, joins }))
    near(at.volts('load:+'), 5, MILLIVOLT)
    // 5 V · 4 A/0.9 = 22.2222 W; V² − 12·V + 22.2222·0.1 = 0 → V = 6 + √(36 − 2.22222) = 11.81184 V, I = 1.881351 A
    near(at.volts('dc:in'), 6 + Math.sqrt(36 - 2.222222), 1e-4)
    near(at.amperes('in'), 22.222222 / (6 + Math.sqrt(36 - 2.222222)), 1e-4)
  })

  test('at its current limit gives that, and its voltage falls', () => {
    const at = pointOf(wiring({ parts: { bat: battery(12, 0.06), in: ohms(0.04), dc, load: resists(0.25) }, joins }))
    near(at.volts('load:+'), 2.5) // 10 A · 0.25 Ω, below 5 V
    // 2.5 V · 10 A/0.9 = 27.7778 W; V = 6 + √(36 − 27.7778·0.1) = 11.76385 V
    near(at.amperes('in'), 27.777778 / (6 + Math.sqrt(36 - 2.777778)), 1e-4)
  })

  test('asking more than its feed can bring has no working point, and that is said', () => {
    // The most 12 V behind 0.1 Ω can give is 12²/(4·0.1) = 360 W; 12 V · 40 A = 480 W is asked.
    const big: Parts[string] = ['converter', { output_V: 12, output_A: 100, efficiency: 1 }]
    const at = pointOf(wiring({ parts: { bat: battery(12, 0.06), in: ohms(0.04), dc: big, load: draws(40) }, joins }))
    expect(at.shown.solved).toBe(false)
    expect(at.shown.faults.join()).toMatch(/no working point/)
    expect(at.volts('load:+')).toBeNull()
    expect(at.amperes('in')).toBeNull()
    // A return is judged by where the wires lie, not by what flows.
    expect(at.report.findings.filter((one) => one.verdict === 'clear' && one.rule !== 'return-path')).toEqual([])
  })
})

describe('diode', () => {
  test('conducting drops its forward voltage', () => {
    const at = pointOf(
      wiring({
        parts: { bat: battery(12, 0.01), d: ['diode', { forward_V: 0.7 }], load: resists(1.12) },
        joins: ['bat:+ > d:a', 'd:k > load:+', 'load:- > bat:-'],
      }),
    )
    near(at.amperes('d'), 10, 1e-3) // (12 − 0.7)/(0.01 + 1.12)
    near(at.volts('load:+'), 11.2, MILLIVOLT) // 10·1.12
  })

  test('blocks from the lower battery to the higher one', () => {
    const at = pointOf(
      wiring({
        parts: { main: battery(12, 0.01), aux: battery(12.8, 0.01), d: ['diode', { forward_V: 0.5 }], load: draws(10) },
        joins: ['main:+ > d:a', 'd:k > aux:+', 'load:+ > aux:+', 'load:- > aux:-', 'main:- > aux:-'],
      }),
    )
    near(at.amperes('d'), 0)
    near(at.volts('aux:+'), 12.7) // 12.8 − 10·0.01
    near(at.volts('main:+'), 12)
  })

  test('the same opens when the load pulls the other side down', () => {
    const at = pointOf(
      wiring({
        parts: { main: battery(12, 0.01), aux: battery(12.8, 0.01), d: ['diode', { forward_V: 0.5 }], load: draws(170) },
        joins: ['main:+ > d:a', 'd:k > aux:+', 'load:+ > aux:+', 'load:- > aux:-', 'main:- > aux:-'],
      }),
    )
    // (11.5 − V)/0.01 + (12.8 − V)/0.01 = 170 → V = (24.3 − 1.7)/2 = 11.3 V; main gives (11.5 − 11.3)/0.01 = 20 A
    near(at.volts('aux:+'), 11.3, MILLIVOLT)
    near(at.amperes('d'), 20, 0.02)
  })
})

describe('conductor heat', () => {
  // 4 mm² of 105 °C between 12 AWG (3.3088 mm², 45 A) and 10 AWG (5.2612 mm², 60 A), 33 CFR 183.425 Table 5 (read):
  // x = ln(4/3.30877)/ln(5.26115/3.30877) = 0.409; I30 = 45·(60/45)^x = 50.62 A. R20 = 5 m/(58·4) = 21.5517 mΩ. α = 0.00393 /K.
  const x = Math.log(4 / 3.308768) / Math.log(5.261149 / 3.308768)
  const I30 = 45 * (60 / 45) ** x
  const R20 = 5 / (58 * 4)
  const wire = (more = {}): Parts[string] => [
    'conductor',
    { material: 'copper', crossSection_mm2: 4, insulation_degC: 105 },
    { length_m: 5, zone: 'z', ...more },
  ]
  const joins = ['bat:+ > w:a', 'w:b > load:+', 'load:- > bat:-']

  test('at a given current: Ta + (Tc − 30)·(I/I30)²', () => {
    const at = pointOf(wiring({ parts: { bat: battery(12, 0.001), w: wire(), load: draws(40) }, joins, ambient_degC: 30 }))
    const T = 30 + 75 * (40 / I30) ** 2 // 76.8 °C
    near(at.component('w').temperature_degC as number, T, 0.02)
    near(at.component('w').drop_V as number, 40 * R20 * (1 + 0.00393 * (T - 20)), 1e-4)
    near(I30, 50.62, 0.005)
  })

  test('in a bundle of four (0.6) and in two parallel conductors', () => {
    const at = pointOf(
      wiring({ parts: { bat: battery(12, 0.001), w: wire({ bundle: 4, parallel: 2 }), load: draws(40) }, joins, ambient_degC: 30 }),
    )
    near(at.component('w').temperature_degC as number, 30 + 75 * (20 / (I30 * 0.6)) ** 2, 0.02)
  })

  test('self-consistent: a resistive load, so that heat and current fix each other', () => {
    const at = pointOf(wiring({ parts: { bat: battery(12, 0.01), w: wire(), load: resists(0.25) }, joins, ambient_degC: 40 }))
    const current = (T: number) => 12 / (0.01 + 0.25 + R20 * (1 + 0.00393 * (T - 20)))
    // T − 40 − 75·(I(T)/I30)² rises with T: halve the interval.
    let [low, high] = [40, 155]
    for (let n = 0; n < 60; n++) {
      const T = (low + high) / 2
      if (T - 40 - 75 * (current(T) / I30) ** 2 > 0) high = T
      else low = T
    }
    near(at.component('w').temperature_degC as number, low, 0.02)
    near(at.amperes('w'), current(low), 1e-3)
  })

  test('held at insulation rating + 50 K', () => {
    const at = pointOf(wiring({ parts: { bat: battery(14, 0.001), w: wire(), load: draws(100) }, joins, ambient_degC: 30 }))
    // The law would say 30 + 75·(100/50.62)² = 322.7 °C.
    near(at.component('w').temperature_degC as number, 155)
    near(at.component('w').drop_V as number, 100 * R20 * (1 + 0.00393 * (155 - 20)))
  })

  test('insulation not known: at the ambient', () => {
    const bare: Parts[string] = ['conductor', { material: 'copper', crossSection_mm2: 4 }, { length_m: 5, zone: 'z' }]
    const at = pointOf(wiring({ parts: { bat: battery(12, 0.001), w: bare, load: draws(40) }, joins, ambient_degC: 60 }))
    near(at.component('w').drop_V as number, 40 * R20 * (1 + 0.00393 * 40))
  })
})

describe('constant-power load', () => {
  const joins = ['bat:+ > w:a', 'w:b > load:+', 'load:- > bat:-']
  const power = (power_W: number): Parts[string] => ['load', { behaviour: 'power', power_W, rated_V: 12 }]
  const solved = (power_W: number) => pointOf(wiring({ parts: { bat: battery(12, 0.04), w: ohms(0.06), load: power(power_W) }, joins }))

  test('of the two voltages the upper one', () => {
    const at = solved(100)
    const V = (12 + Math.sqrt(144 - 4 * 0.1 * 100)) / 2 // 11.0990 V; the lower root is 0.9010 V
    near(at.volts('load:+'), V)
    near(at.amperes('w'), 100 / V)
  })

  test('near the most the feed can bring (360 W)', () => {
    near(solved(359).volts('load:+'), (12 + Math.sqrt(144 - 143.6)) / 2, 1e-5)
  })

  test('below half its rated voltage it is the resistance h²/P', () => {
    const at = solved(500)
    // No root of 144 − 4·0.1·500 = −56: h = 6 V, R = 36/500 = 0.072 Ω, V = 12·0.072/(0.1 + 0.072) = 5.02326 V, below h.
    near(at.volts('load:+'), (12 * 0.072) / 0.172)
    near(at.amperes('w'), 12 / 0.172)
  })
})

describe('more than one way', () => {
  test('two identical conductors side by side halve the resistance', () => {
    const at = pointOf(
      wiring({
        parts: { bat: battery(12, 0.01), w: ohms(0.1, { parallel: 2 }), load: draws(10) },
        joins: ['bat:+ > w:a', 'w:b > load:+', 'load:- > bat:-'],
      }),
    )
    near(at.volts('load:+'), 11.4) // 12 − 10·(0.01 + 0.1/2)
    near(at.amperes('w'), 10)
  })

  test('a doubled feed of 1 m and 3 m shares 3 : 1', () => {
    const at = pointOf(
      wiring({
        parts: { bat: battery(12, 0.01), short: ohms(0.1), long: ohms(0.1, { length_m: 3 }), load: draws(12) },
        joins: ['bat:+ > short:a', 'bat:+ > long:a', 'short:b > load:+', 'long:b > load:+', 'load:- > bat:-'],
      }),
    )
    near(at.amperes('short'), 9)
    near(at.amperes('long'), 3)
    near(at.volts('load:+'), 10.98) // 12 − 12·0.01 − 9·0.1
  })

  test('a return shared by two loads lifts both', () => {
    const at = pointOf(
      wiring({
        parts: { bat: battery(12, 0.01), one: draws(5), two: draws(10), strap: ohms(0.02) },
        joins: ['bat:+ > one:+', 'bat:+ > two:+', 'one:- > strap:a', 'two:- > strap:a', 'strap:b > bat:-'],
      }),
    )
    near(at.amperes('strap'), 15)
    near(at.volts('one:-'), 0.3) // 15·0.02
    near(at.volts('one:+'), 11.85) // 12 − 15·0.01
  })

  test('two joins without resistance between two blocks: half each, and said to be assumed', () => {
    const at = pointOf(
      wiring({
        parts: { bat: battery(12, 0.01), a: ['block', {}], b: ['block', {}], load: draws(10) },
        joins: ['bat:+ > a:1', 'a:2 > b:2', 'a:3 > b:3', 'b:1 > load:+', 'load:- > bat:-'],
      }),
    )
    const solved = at.circuit.conditions[0]
    near(solved?.terminalCurrent_A('a:1') as number, 10)
    near(solved?.terminalCurrent_A('a:2') as number, 5)
    near(solved?.terminalCurrent_A('b:3') as number, 5)
    expect([solved?.terminalAssumed('a:2'), solved?.terminalAssumed('b:3')]).toEqual([true, true])
    expect(solved?.terminalAssumed('a:1')).toBe(false)
  })

  test('a join of a stated resistance counts', () => {
    const document = wiring({ parts: { bat: battery(12, 0.01), load: draws(10) }, joins: ['bat:+ > load:+', 'load:- > bat:-'] })
    const joins = document.joins.map((join) => ({ ...join, resistance_ohm: 0.02 }))
    const at = pointOf({ ...document, joins })
    near(at.volts('load:+'), 11.7) // 12 − 10·(0.01 + 0.02)
    near(at.volts('load:-'), 0.2) // 10·0.02
  })
})

describe('what is not fed, not referred, not known', () => {
  test('behind an open switch there is no voltage, not zero volts', () => {
    const at = pointOf(
      wiring({
        parts: { bat: battery(12, 0.01), s: ['switch', {}], w: ohms(0.1), load: draws(10) },
        joins: ['bat:+ > s:in', 's:out > w:a', 'w:b > load:+', 'load:- > bat:-'],
        conditions: [{ ...off, open: ['s'] }],
      }),
    )
    expect(at.volts('w:a')).toBeNull()
    expect(at.volts('load:+')).toBeNull()
    expect(at.shown.unfed).toContain('w')
    near(at.amperes('w'), 0)
    near(at.volts('bat:+'), 12)
  })

  test('a second circuit without the reference post is solved against its own battery', () => {
    const at = pointOf(
      wiring({
        parts: { bat: battery(12, 0.01), load: draws(10), other: battery(6, 0.1), lamp: draws(5) },
        joins: ['bat:+ > load:+', 'load:- > bat:-', 'other:+ > lamp:+', 'lamp:- > other:-'],
      }),
    )
    near(at.volts('load:+'), 11.9) // 12 − 10·0.01
    near(at.volts('lamp:+') - at.volts('lamp:-'), 5.5) // 6 − 5·0.1
  })

  test('a load of unknown current draws nothing, and what feeds it is at least so much', () => {
    const at = pointOf(
      wiring({
        parts: { bat: battery(12, 0.01), w: ohms(0.1), load: draws(10), box: ['load', { rated_V: 12 }], alone: draws(1) },
        joins: ['bat:+ > w:a', 'w:b > load:+', 'w:b > box:+', 'load:- > bat:-', 'box:- > bat:-', 'alone:+ > bat:+', 'alone:- > bat:-'],
      }),
    )
    near(at.amperes('w'), 10)
    expect(at.component('w').atLeast).toBe(true)
    expect(at.component('alone').atLeast).toBe(false)
  })

  test('a conductor of unknown length counts no volts, and the drop is not judged', () => {
    const at = pointOf(
      wiring({
        parts: {
          bat: battery(12, 0.01),
          w: ['conductor', { material: 'copper', crossSection_mm2: 4 }],
          load: draws(10),
        },
        joins: ['bat:+ > w:a', 'w:b > load:+', 'load:- > bat:-'],
      }),
    )
    near(at.volts('load:+'), 11.9) // 12 − 10·0.01
    const drop = at.report.findings.find((one) => one.rule === 'voltage-drop' && one.component === 'load')
    expect(drop?.verdict).toBe('unknown')
    expect(drop?.missing.join()).toContain('w')
  })

  test('a load whose return is not recorded returns to the chassis; its return is unknown', () => {
    const at = pointOf(
      wiring({
        parts: { bat: battery(12, 0.01), load: draws(10), body: ['chassis', {}], strap: ohms(0.02) },
        joins: ['bat:+ > load:+', 'body:1 > strap:a', 'strap:b > bat:-'],
      }),
    )
    near(at.amperes('strap'), 10)
    near(at.volts('body:1'), 0.2) // 10·0.02
    expect(at.report.findings.find((one) => one.rule === 'return-path' && one.component === 'load')?.verdict).toBe('unknown')
  })
})

describe('relays', () => {
  const changeover: Parts[string] = ['relay', { contactResistance_ohm: 0.01, coil_ohm: 96 }]
  const parts = { bat: battery(12, 0.01), r: changeover, high: draws(10), low: draws(4) }
  const joins = ['bat:+ > r:30', 'bat:+ > r:86', 'r:85 > bat:-', 'r:87 > high:+', 'r:87a > low:+', 'high:- > bat:-', 'low:- > bat:-']

  test('a changeover rests on 87a: no coil current', () => {
    const at = pointOf(wiring({ parts, joins, conditions: [{ ...off, on: ['low'] }] }))
    near(at.amperes('bat'), -4)
    near(at.volts('low:+'), 11.92) // 12 − 4·(0.01 + 0.01)
    expect(at.volts('high:+')).toBeNull()
  })

  test('and works on 87 when a load there is on, its coil drawing', () => {
    const at = pointOf(wiring({ parts, joins, conditions: [{ ...off, on: ['high'] }] }))
    // V = 12 − 0.01·(10 + V/96) → V = 11.9/(1 + 0.01/96) = 11.898761 V at the battery
    const V = 11.9 / (1 + 0.01 / 96)
    near(at.volts('bat:+'), V)
    near(at.amperes('bat'), -(10 + V / 96))
    near(at.volts('high:+'), V - 0.1) // 10·0.01 of contact
    expect(at.volts('low:+')).toBeNull()
  })

  test('both contacts needed at once is a fault of the condition', () => {
    const at = pointOf(wiring({ parts, joins, conditions: [{ ...off, on: ['high', 'low'] }] }))
    expect(at.shown.faults.join()).toMatch(/87 and on 87a/)
  })

  const chain = {
    bat: battery(12, 0.01),
    first: ['relay', { contactResistance_ohm: 0.01, coil_ohm: 100 }] as Parts[string],
    second: ['relay', { contactResistance_ohm: 0.01, coil_ohm: 50 }] as Parts[string],
    pilot: ohms(0.5),
    load: draws(10),
  }
  const chained = [
    'bat:+ > first:30',
    'bat:+ > pilot:a',
    'pilot:b > first:86',
    'first:85 > bat:-',
    'first:87 > second:86',
    'second:85 > bat:-',
    'bat:+ > second:30',
    'second:87 > load:+',
    'load:- > bat:-',
  ]

  test('a relay that feeds a relay’s coil works with it', () => {
    const at = pointOf(wiring({ parts: chain, joins: chained, conditions: [off] }))
    // Seen from the battery: 10 A, V/(0.5 + 100), V/(0.01 + 50): V = 11.9/(1 + 0.01·(1/100.5 + 1/50.01))
    const V = 11.9 / (1 + 0.01 * (1 / 100.5 + 1 / 50.01))
    near(at.volts('bat:+'), V)
    near(at.amperes('pilot'), V / 100.5)
    near(at.amperes('first'), V / 50.01) // its contact carries the second coil
    near(at.amperes('second'), 10)
  })

  test('and drops out with it', () => {
    const at = pointOf(wiring({ parts: chain, joins: chained, conditions: [{ ...off, on: [] }] }))
    near(at.amperes('pilot'), 0)
    near(at.amperes('bat'), 0)
  })
})

test('a pulsed load: 10 A mean at a duty of a quarter heats a conductor as 20 A', () => {
  const at = pointOf(
    wiring({
      parts: { bat: battery(12, 0.01), w: ohms(0.01), steady: draws(15), pulsed: draws(10, { pwmDuty: 0.25 }) },
      joins: ['bat:+ > w:a', 'w:b > steady:+', 'w:b > pulsed:+', 'steady:- > bat:-', 'pulsed:- > bat:-'],
      conditions: [
        { ...off, on: ['pulsed'] },
        { key: 'both', name: 'both', engine: 'off' },
      ],
    }),
  )
  near(at.circuit.conditions[0]?.rms_A('w') as number, 20) // 40 A for a quarter of the time: √(40²·0.25) = 10/√0.25
  // 55 A for a quarter, 15 A for the rest: √(55²·0.25 + 15²·0.75) = √925
  near(at.circuit.conditions[1]?.rms_A('w') as number, Math.sqrt(925))
  near(at.circuit.conditions[1]?.current_A('w') as number, 25)
})

test('two batteries in series are named, not solved: every current is unknown', () => {
  const { report } = pointOf(
    wiring({
      parts: { one: battery(12, 0.01), two: battery(12, 0.01), f: ['fuse', { rated_A: 10, rated_V: 32 }], load: draws(5) },
      joins: ['one:- > two:+', 'one:+ > f:in', 'f:out > load:+', 'load:- > two:-'],
    }),
  )
  expect(report.conditions[0]?.solved).toBe(false)
  expect(report.conditions[0]?.faults.join(' ')).toContain('stand in series')
  expect(report.findings.find((one) => one.rule === 'fuse-load')?.verdict).toBe('unknown')
})

test('a motor between two changeover relays that both work stands at one potential: said of the condition', () => {
  const { report } = pointOf(
    wiring({
      parts: { bat: battery(12, 0.01), up: ['relay', {}], down: ['relay', {}], motor: draws(5) },
      joins: ['bat:+ > up:87', 'bat:+ > down:87', 'bat:- > up:87a', 'bat:- > down:87a', 'up:30 > motor:+', 'down:30 > motor:-'],
    }),
  )
  expect(report.conditions[0]?.faults.join(' ')).toContain('motor is on and stands between two points of one potential')
})
