/** Random vehicle documents for the property tests. Long because it is one recipe: what is drawn, and how it is wired together. */
import fc from 'fast-check'
import type { Component, Condition, Grade, Join, Part, Ratings, VehicleDocument, Zone } from '../../../server/engine/vehicle.ts'

type Optional<T> = T | null

/** A figure in a range, in thousandths of it, so that a counter-example stays readable. */
const between = (range: { readonly least: number; readonly most: number }) =>
  fc
    .integer({ min: 0, max: 1000 })
    .map((thousandths) => Number((range.least + ((range.most - range.least) * thousandths) / 1000).toPrecision(5)))
// Nothing once in `freq` times.
const sometimes = <T>(one: fc.Arbitrary<T>) => fc.option(one, { freq: 2 })
const often = <T>(one: fc.Arbitrary<T>) => fc.option(one, { freq: 4 })
const mostly = <T>(one: fc.Arbitrary<T>) => fc.option(one, { freq: 16 })
const grade = fc.constantFrom<Optional<Grade>>('datasheet', 'marked', 'measured', 'typical', 'assumed', null)
const place = fc.nat({ max: 20 })

const wire = fc.record({
  material: fc.constantFrom('copper', 'copper', 'tinned-copper', 'aluminium', 'cca-15'),
  crossSection_mm2: fc.constantFrom(0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25),
  insulation_degC: mostly(fc.constantFrom(60, 80, 90, 105, 125)),
  length_m: mostly(between({ least: 0.2, most: 4 })),
  parallel: fc.constantFrom(null, null, null, 2, 3),
  bundle: fc.constantFrom(null, null, 1, 3, 5),
  joint_ohm: sometimes(between({ least: 0.0001, most: 0.002 })),
  zone: place,
  grade,
})
type Wire = typeof wire extends fc.Arbitrary<infer T> ? T : never

const fuse = fc.record({
  rated_A: mostly(fc.constantFrom(5, 10, 15, 20, 30, 60, 100)),
  form: fc.constantFrom('C', 'E', 'F', 'glass', 'A1', 'SF30', 'single-bolt'),
  resistance_ohm: often(between({ least: 0, most: 0.004 })),
  isBreaker: fc.constantFrom(false, false, false, true),
  reset: sometimes(fc.constantFrom('automatic', 'modified', 'manual')),
  breaking_A: sometimes(fc.constantFrom(1000, 2000, 6000)),
  holder_A: sometimes(fc.constantFrom(20, 30, 100)),
  zone: place,
  grade,
})
type Fuse = typeof fuse extends fc.Arbitrary<infer T> ? T : never

/** What a part stands of its place. */
const stands = fc.record({
  maxAmbient_degC: sometimes(fc.constantFrom(60, 85, 105, 125)),
  ingress: sometimes(fc.constantFrom('IP40', 'IP54', 'IP67', 'IP6K9K')),
  fuel: sometimes(fc.constantFrom('none', 'vapour', 'immersed')),
})

const relay = fc.record({
  make_A: mostly(between({ least: 10, most: 60 })),
  contactResistance_ohm: often(between({ least: 0, most: 0.004 })),
  coil_ohm: mostly(between({ least: 50, most: 120 })),
  hasCoil: fc.boolean(),
  inrush_A: sometimes(between({ least: 20, most: 200 })),
  pickUp20_V: sometimes(between({ least: 3, most: 9 })),
  duty: sometimes(fc.constantFrom('continuous', 'intermittent')),
  suppression: sometimes(fc.constantFrom('none', 'resistor', 'diode', 'zener')),
  stands,
  zone: place,
  grade,
})

const load = fc.record({
  behaviour: fc.constantFrom('resistive' as const, 'current' as const, 'power' as const),
  current_A: mostly(between({ least: 0, most: 9 })),
  nature: fc.constantFrom(null, 'lamp', 'motor', 'electronic'),
  minimumShare: sometimes(between({ least: 0.7, most: 0.9 })),
  essential: fc.boolean(),
  inrushTimes: sometimes(between({ least: 1, most: 12 })),
  inrush_s: sometimes(between({ least: 0.001, most: 1 })),
  maximumShare: sometimes(between({ least: 1.05, most: 1.4 })),
  duty: sometimes(fc.constantFrom('continuous', 'intermittent')),
  stands,
  pwmDuty: sometimes(between({ least: 0.1, most: 1 })),
  returns: fc.constantFrom('chassis' as const, 'wire' as const, 'wire' as const, 'ground' as const, 'both' as const, 'unrecorded' as const),
  lead: mostly(wire),
  back: wire,
  zone: place,
  grade,
})
type Load = typeof load extends fc.Arbitrary<infer T> ? T : never

const circuit = fc.record({
  block: place,
  fuse: mostly(fuse),
  wire,
  switchRated_A: sometimes(between({ least: 5, most: 30 })),
  relay: sometimes(relay),
  pole_ohm: sometimes(between({ least: 0.0005, most: 0.004 })),
  loads: fc.array(load, { minLength: 1, maxLength: 2 }),
})

const condition = fc.record({
  engine: fc.constantFrom('off' as const, 'running' as const, 'idle' as const, 'cranking' as const),
  isOn: sometimes(fc.array(fc.boolean(), { minLength: 12, maxLength: 12 })),
  opens: sometimes(place),
  charge_A: sometimes(between({ least: 0, most: 30 })),
})

const recipe = fc.record({
  system_V: fc.constantFrom(6, 12, 12, 24, 48),
  zones: fc.array(
    fc.record({
      ambient_degC: mostly(between({ least: -10, most: 80 })),
      peak_degC: sometimes(between({ least: 40, most: 130 })),
      ingress: sometimes(fc.constantFrom('IP20', 'IP54', 'IP65', 'IP67')),
      fuel: sometimes(fc.constantFrom('none', 'vapour', 'immersed')),
    }),
    { minLength: 1, maxLength: 3 },
  ),
  reserve_h: sometimes(between({ least: 1, most: 40 })),
  entry_mm2: sometimes(fc.constantFrom([1.5, 16], [0.5, 6], [2.5, 50])),
  batteries: fc.array(
    fc.record({
      emfShare: between({ least: 1, most: 1.06 }),
      resistance_ohm: between({ least: 0.002, most: 0.02 }),
      isByCranking: fc.constantFrom(false, false, false, true),
      capacity_Ah: sometimes(between({ least: 30, most: 200 })),
      block: place,
      main: often(fuse),
      feed: wire,
      strap: wire,
    }),
    { minLength: 1, maxLength: 2 },
  ),
  alternator: sometimes(
    fc.record({
      setPointShare: between({ least: 1.12, most: 1.22 }),
      output_A: mostly(between({ least: 15, most: 120 })),
      idleOutput_A: mostly(between({ least: 0, most: 40 })),
      block: place,
      senses: fc.constantFrom(false, false, true),
      lead: wire,
    }),
  ),
  /** each block after the first hangs on an earlier one */
  blocks: fc.array(fc.record({ parent: place, fuse: often(fuse), wire, total_A: mostly(between({ least: 20, most: 200 })) }), {
    maxLength: 2,
  }),
  /** second ways between blocks */
  meshes: fc.array(fc.record({ from: place, to: place, wire }), { maxLength: 2 }),
  circuits: fc.array(circuit, { minLength: 1, maxLength: 3 }),
  conditions: fc.array(condition, { maxLength: 2 }),
})
type Recipe = typeof recipe extends fc.Arbitrary<infer T> ? T : never

/** Valid documents: trees and small meshes of blocks, one or two batteries, with or without an alternator. */
export const randomDocument: fc.Arbitrary<VehicleDocument> = recipe.map(documentOf)

/** The same document with its lists in another order and its joins written from either end. */
export const reordered = (document: VehicleDocument): fc.Arbitrary<VehicleDocument> =>
  fc
    .record({
      parts: shuffled(document.parts),
      components: shuffled(document.components),
      zones: shuffled(document.zones ?? []),
      joins: shuffled(document.joins),
      turned: fc.array(fc.boolean(), { minLength: document.joins.length, maxLength: document.joins.length }),
    })
    .map(({ turned, joins, ...lists }) => ({
      ...document,
      ...lists,
      joins: joins.map((join, n) => (turned[n] ? { ...join, from: join.to, to: join.from } : join)),
    }))

function shuffled<T>(list: readonly T[]): fc.Arbitrary<T[]> {
  return fc.shuffledSubarray([...list], { minLength: list.length })
}

function documentOf(given: Recipe): VehicleDocument {
  const { system_V } = given
  const parts: Part[] = []
  const components: Component[] = []
  const joins: Join[] = []
  const loads: string[] = []
  const openable: string[] = []
  const zoneOf = (at: number) => `z${at % given.zones.length}`
  const put = (key: string, kind: string, ratings: Ratings, more: Partial<Component> & { readonly grade?: Optional<Grade> } = {}) => {
    const { grade: evidence, ...rest } = more
    const graded = evidence ? { evidence: Object.fromEntries(Object.keys(ratings).map((name) => [name, evidence])) } : {}
    parts.push({ key: `p-${key}`, kind, name: key, ratings, ...graded })
    components.push({ key, name: `the ${key}`, part: `p-${key}`, ...rest })
  }
  const tie = (from: string, to: string, resistance_ohm: Optional<number> = null) =>
    joins.push(resistance_ohm === null ? { from, to } : { from, to, resistance_ohm })
  const run = (key: string, from: string, to: string, one: Wire) => {
    const { material, crossSection_mm2, insulation_degC, length_m, parallel, bundle } = one
    put(
      key,
      'conductor',
      { material, crossSection_mm2, ...stated({ insulation_degC }) },
      { zone: zoneOf(one.zone), grade: one.grade, ...stated({ length_m, parallel, bundle }) },
    )
    tie(from, `${key}:a`, one.joint_ohm)
    tie(`${key}:b`, to)
  }
  const protect = (key: string, from: string, one: Optional<Fuse>): string => {
    if (!one) return from
    const { rated_A, resistance_ohm, form, isBreaker, reset, breaking_A, holder_A } = one
    const ratings = { form, rated_V: 58, ...stated({ rated_A, resistance_ohm, breaking_A, holder_A }) }
    put(key, isBreaker ? 'breaker' : 'fuse', isBreaker ? { ...ratings, ...stated({ reset }) } : ratings, {
      zone: zoneOf(one.zone),
      grade: one.grade,
    })
    tie(from, `${key}:in`)
    openable.push(key)
    return `${key}:out`
  }
  const blockCount = given.blocks.length + 1
  const way = (at: number, name: string) => `block${at % blockCount}:${name}`

  put('chassis', 'chassis', {})
  put('ground', 'ground-point', { rated_A: 50 })
  tie('ground:stud', 'chassis:ground')
  const entry = given.entry_mm2 ? { entryMin_mm2: given.entry_mm2[0] as number, entryMax_mm2: given.entry_mm2[1] as number } : {}
  put('block0', 'block', { ways: 40, total_A: 200, way_A: 80, ...entry })
  given.batteries.forEach((one, n) => {
    const key = `battery${n}`
    const emf = {
      nominal_V: system_V,
      openCircuit_V: Number((system_V * one.emfShare).toPrecision(5)),
      ...stated({ capacity_Ah: one.capacity_Ah }),
    }
    put(key, 'battery', one.isByCranking ? { ...emf, coldCranking_A: 600 } : { ...emf, internalResistance_ohm: one.resistance_ohm })
    run(`${key}-feed`, protect(`${key}-main`, `${key}:+`, one.main), n === 0 ? 'block0:battery0' : way(one.block, key), one.feed)
    run(`${key}-strap`, `chassis:${key}`, `${key}:-`, one.strap)
    openable.push(key)
  })
  if (given.alternator) {
    const { setPointShare, output_A, idleOutput_A, block, senses, lead } = given.alternator
    put('alternator', 'alternator', {
      setPoint_V: Number((system_V * setPointShare).toPrecision(5)),
      ...stated({ output_A, idleOutput_A }),
    })
    run('alternator-lead', 'alternator:+', way(block, 'alternator'), lead)
    tie('alternator:-', 'chassis:alternator')
    if (senses) tie('alternator:sense', 'block0:sense')
  }
  given.blocks.forEach((one, n) => {
    const key = `block${n + 1}`
    put(key, 'block', { ways: 10, way_A: 60, ...stated({ total_A: one.total_A }) })
    const parent = `block${one.parent % (n + 1)}:to-${key}`
    run(`${key}-feed`, protect(`${key}-fuse`, parent, one.fuse), `${key}:in`, one.wire)
  })
  given.meshes.forEach((one, n) => {
    if (one.from % blockCount !== one.to % blockCount) run(`mesh${n}`, way(one.from, `mesh${n}`), way(one.to, `mesh${n}`), one.wire)
  })
  given.circuits.forEach((one, n) => {
    let at = protect(`fuse${n}`, way(one.block, `circuit${n}`), one.fuse)
    if (one.switchRated_A !== null) {
      put(`switch${n}`, 'switch', { rated_A: one.switchRated_A, rated_V: 58, contactResistance_ohm: 0.003 }, { zone: zoneOf(n) })
      tie(at, `switch${n}:in`)
      at = `switch${n}:out`
    }
    if (one.relay) {
      const { make_A, contactResistance_ohm, coil_ohm, hasCoil, zone, grade, inrush_A, pickUp20_V, duty, suppression } = one.relay
      const known = stated({ make_A, contactResistance_ohm, coil_ohm, inrush_A, pickUp20_V, duty, suppression, ...one.relay.stands })
      const ratings = { rated_V: 58, ...known }
      put(`relay${n}`, 'relay', ratings, { zone: zoneOf(zone), grade })
      tie(at, `relay${n}:30`)
      if (hasCoil) {
        tie(way(zone, `coil${n}`), `relay${n}:86`)
        tie(`relay${n}:85`, `chassis:coil${n}`)
      }
      openable.push(`relay${n}`)
      at = `relay${n}:87`
    }
    put(`splice${n}`, 'splice', { rated_A: 40 })
    run(`wire${n}`, at, `splice${n}:in`, one.wire)
    at = `splice${n}:out`
    if (one.pole_ohm !== null) {
      put(`plug${n}`, 'connector', { poles: 1, pole_A: 20, contactResistance_ohm: one.pole_ohm })
      tie(at, `plug${n}:1a`)
      at = `plug${n}:1b`
    }
    for (const [m, each] of one.loads.entries()) {
      putLoad({ key: `load${n}-${m}`, at, load: each, system_V, put, run, tie, zoneOf })
      loads.push(`load${n}-${m}`)
    }
  })
  const zones = given.zones.map((one, n): Zone => ({ key: `z${n}`, name: `zone ${n}`, ...stated(one) }))
  const conditions = given.conditions.map((one, n): Condition => {
    const on = one.isOn ? { on: loads.filter((_, at) => one.isOn?.[at]) } : {}
    const open = one.opens === null ? {} : { open: [openable[one.opens % openable.length] as string] }
    const turns = one.engine === 'running' || one.engine === 'idle'
    return {
      key: `c${n}`,
      name: `condition ${n}`,
      engine: one.engine,
      ...on,
      ...open,
      ...(turns ? stated({ charge_A: one.charge_A }) : {}),
    }
  })
  return {
    format: 'loombook-vehicle/1',
    vehicle: { name: 'random', systemVoltage_V: system_V, ...stated({ reserve_h: given.reserve_h }) },
    zones,
    parts,
    components,
    joins,
    ...(conditions.length > 0 ? { conditions } : {}),
  }
}

function putLoad(given: {
  readonly key: string
  readonly at: string
  readonly load: Load
  readonly system_V: number
  readonly put: (key: string, kind: string, ratings: Ratings, more: Partial<Component> & { readonly grade?: Optional<Grade> }) => void
  readonly run: (key: string, from: string, to: string, one: Wire) => void
  readonly tie: (from: string, to: string) => void
  readonly zoneOf: (at: number) => string
}): void {
  const { key, at, load, system_V, put, run, tie, zoneOf } = given
  const { behaviour, current_A, nature, pwmDuty, essential, minimumShare, maximumShare, inrushTimes, inrush_s, duty } = load
  const maximum_V = maximumShare === null ? null : Number((system_V * maximumShare).toPrecision(4))
  const inrush_A = inrushTimes === null || !current_A ? null : Number((current_A * inrushTimes).toPrecision(4))
  const minimum_V = minimumShare === null ? null : Number((system_V * minimumShare).toPrecision(4))
  put(
    key,
    'load',
    {
      behaviour,
      rated_V: system_V,
      essential,
      ...stated({ current_A, nature, pwmDuty, minimum_V, maximum_V, inrush_A, inrush_s, duty, ...load.stands }),
    },
    { zone: zoneOf(load.zone), grade: load.grade },
  )
  if (load.lead) run(`${key}-lead`, at, `${key}:+`, load.lead)
  else tie(at, `${key}:+`)
  if (load.returns === 'chassis') tie(`${key}:-`, `chassis:${key}`)
  if (load.returns === 'wire' || load.returns === 'both') run(`${key}-back`, `${key}:-`, `chassis:${key}`, load.back)
  if (load.returns === 'both') run(`${key}-back2`, `${key}:-`, `ground:${key}`, load.back)
  if (load.returns === 'ground') run(`${key}-back`, `${key}:-`, `ground:${key}`, load.back)
}

/** The fields that are known. */
function stated<T extends Readonly<Record<string, unknown>>>(fields: T): { [K in keyof T]?: NonNullable<T[K]> } {
  return Object.fromEntries(Object.entries(fields).filter(([, value]) => value !== null)) as { [K in keyof T]?: NonNullable<T[K]> }
}
