/** What a short draws on random networks, against a dense elimination of the same network written here: nodes, one battery current each, one short. */
import fc from 'fast-check'
import { expect, test, vi } from 'vitest'
import { circuitOf, type SolvedCircuit } from '../../../server/engine/circuit-of.ts'
import type { Ratings, VehicleDocument } from '../../../server/engine/vehicle.ts'
import { randomDocument } from './random-documents.ts'

vi.setConfig({ testTimeout: 120_000 })
const settings = { seed: Number(process.env.LOOMBOOK_RANDOM_SEED ?? 20261126), numRuns: 60 }
const RELATIVE = 1e-6

type Wire = { readonly component: string | null; readonly a: number; readonly b: number; readonly ohm: number }
type Battery = { readonly plus: number; readonly minus: number; readonly emf_V: number; readonly ohm: number }
type Passive = { readonly wires: readonly Wire[]; readonly batteries: readonly Battery[]; readonly node: (terminal: string) => number }

// Coefficients at 20 °C: IEC 60028 copper (memory), aluminium 0.00403, clad 0.0040 (memory).
const ALPHA: Readonly<Record<string, number>> = { copper: 0.00393, 'tinned-copper': 0.00393, aluminium: 0.00403, 'cca-15': 0.004 }

const partOf = (document: VehicleDocument, component: string): { readonly kind: string; readonly ratings: Ratings } => {
  const key = document.components.find((one) => one.key === component)?.part
  return document.parts.find((one) => one.key === key) as { kind: string; ratings: Ratings }
}

/** Wires between nodes, all contacts closed, no load drawing; what has no resistance is one node. */
function passiveOf(circuit: SolvedCircuit, given: { readonly isHot: boolean; readonly only: string | null }): Passive {
  const { network, doc } = circuit
  const parent = network.terminals.map((_, n) => n)
  const find = (n: number): number => (parent[n] === n ? n : find(parent[n] as number))
  const merge = (a: number, b: number) => {
    parent[find(a)] = find(b)
  }
  for (const terminals of network.oneNode.values()) for (const terminal of terminals) merge(terminal, terminals[0] as number)
  const passes = network.elements.filter((one) => ['join', 'series', 'contact-make', 'contact-break'].includes(one.kind))
  for (const one of passes) if (one.ohm === 0) merge(one.from, one.to)
  const factor = (component: string | null): number => {
    if (component === null) return 1
    const { kind, ratings } = partOf(doc, component)
    if (kind === 'fuse') return given.isHot ? 1 : 0.6
    if (kind !== 'conductor' || !given.isHot) return 1
    const degC = typeof ratings.insulation_degC === 'number' ? ratings.insulation_degC : 105
    return 1 + (ALPHA[String(ratings.material)] as number) * (degC - 20)
  }
  const wires = passes
    .filter((one) => one.ohm !== 0)
    .map((one) => ({ component: one.component, a: find(one.from), b: find(one.to), ohm: one.ohm * factor(one.component) }))
  const setPoint_V = Math.max(0, ...doc.parts.map((part) => (part.kind === 'alternator' ? (part.ratings.setPoint_V as number) : 0)))
  const node = (terminal: string) => find(network.terminalNumber.get(terminal) as number)
  const batteries = doc.components
    .filter((one) => partOf(doc, one.key).kind === 'battery' && (given.only === null || one.key === given.only))
    .map((one) => {
      const { ratings } = partOf(doc, one.key)
      const [nominal_V, emf_V] = [ratings.nominal_V as number, ratings.openCircuit_V as number]
      // SAE J537: 12.6 to 7.2 V at 600 A and −18 °C, 9 mΩ of a 12 V battery; half of that when warm.
      const cold_ohm = (0.009 * nominal_V) / 12
      const ohm = typeof ratings.internalResistance_ohm === 'number' ? ratings.internalResistance_ohm : cold_ohm * (given.isHot ? 1 : 0.5)
      const lifted_V = !given.isHot && setPoint_V <= emf_V * 1.35 ? Math.max(emf_V, setPoint_V) : emf_V
      return { plus: node(`${one.key}:+`), minus: node(`${one.key}:-`), emf_V: lifted_V, ohm }
    })
  return { wires, batteries, node }
}

/** Volts by node and the current of a short between two of them; null where no battery drives one. */
function shorted(
  passive: Passive,
  a: number,
  b: number,
): { readonly volts: ReadonlyMap<number, number>; readonly current_A: number } | null {
  if (a === b) return null
  const { wires, batteries } = passive
  const ties = [...wires.map((one) => [one.a, one.b]), ...batteries.map((one) => [one.plus, one.minus])]
  const reached = new Set([a])
  for (let size = 0; size !== reached.size; ) {
    size = reached.size
    for (const [one, other] of ties as [number, number][]) if (reached.has(one) !== reached.has(other)) reached.add(one).add(other)
  }
  if (!reached.has(b)) return null
  const live = batteries.filter((one) => reached.has(one.plus))
  if (live.length === 0) return null
  // Node b stands at 0 V. Unknowns: volts of the other nodes, then each battery's current, then the short's.
  const nodes = [...reached].filter((one) => one !== b)
  const at = new Map(nodes.map((one, n) => [one, n]))
  const size = nodes.length + live.length + 1
  const rows = Array.from({ length: size }, () => new Float64Array(size + 1))
  const add = (row: number | undefined, column: number | undefined, value: number) => {
    if (row === undefined || column === undefined) return
    const line = rows[row] as Float64Array
    line[column] = (line[column] as number) + value
  }
  for (const one of wires) {
    if (one.a === one.b || !reached.has(one.a)) continue
    const [i, j] = [at.get(one.a), at.get(one.b)]
    add(i, i, 1 / one.ohm)
    add(j, j, 1 / one.ohm)
    add(i, j, -1 / one.ohm)
    add(j, i, -1 / one.ohm)
  }
  live.forEach((one, n) => {
    const own = nodes.length + n
    // It gives its current to its positive node; v+ − v− + R·I = EMF.
    add(at.get(one.plus), own, -1)
    add(at.get(one.minus), own, 1)
    add(own, at.get(one.plus), 1)
    add(own, at.get(one.minus), -1)
    add(own, own, one.ohm)
    add(own, size, one.emf_V)
  })
  const short = size - 1
  add(at.get(a), short, 1)
  add(short, at.get(a), 1)
  const found = eliminated(rows)
  return {
    volts: new Map([[b, 0], ...nodes.map((one, n): [number, number] => [one, found[n] as number])]),
    current_A: found[short] as number,
  }
}

/** Gauss with the largest pivot of each column. */
function eliminated(rows: Float64Array[]): readonly number[] {
  const size = rows.length
  const cell = (row: number, column: number) => (rows[row] as Float64Array)[column] as number
  for (let n = 0; n < size; n++) {
    let pivot = n
    for (let row = n + 1; row < size; row++) if (Math.abs(cell(row, n)) > Math.abs(cell(pivot, n))) pivot = row
    ;[rows[n], rows[pivot]] = [rows[pivot] as Float64Array, rows[n] as Float64Array]
    for (let row = n + 1; row < size; row++) {
      const share = cell(row, n) / cell(n, n)
      if (share !== 0)
        for (let column = n; column <= size; column++) (rows[row] as Float64Array)[column] = cell(row, column) - share * cell(n, column)
    }
  }
  const found: number[] = new Array(size).fill(0)
  for (let n = size - 1; n >= 0; n--) {
    let rest = cell(n, size)
    for (let column = n + 1; column < size; column++) rest -= cell(n, column) * (found[column] as number)
    found[n] = rest / cell(n, n)
  }
  return found
}

const isNear = (one: number, other: number) => Math.abs(one - other) <= RELATIVE * Math.max(Math.abs(one), Math.abs(other)) + 1e-9

/** Current through a component of one element between two nodes; null where it is bridged or not such a component. */
function through_A(passive: Passive, short: { readonly volts: ReadonlyMap<number, number> }, component: string): number | null {
  const [wire, ...others] = passive.wires.filter((one) => one.component === component)
  if (!wire || others.length > 0 || wire.a === wire.b) return null
  return Math.abs((short.volts.get(wire.a) ?? 0) - (short.volts.get(wire.b) ?? 0)) / wire.ohm
}

test('the elimination itself: two batteries and two wires, by hand', () => {
  // 12 V behind 0.1 Ω and 10 V behind 0.1 Ω at one node, 0.15 Ω from there to the short: (120 + 100)/(10 + 10 + 6.667) = 8.25 V, 55 A.
  const short = shorted(
    {
      wires: [{ component: 'w', a: 0, b: 1, ohm: 0.15 }],
      batteries: [
        { plus: 0, minus: 2, emf_V: 12, ohm: 0.1 },
        { plus: 0, minus: 2, emf_V: 10, ohm: 0.1 },
      ],
      node: () => 0,
    },
    1,
    2,
  )
  expect(short?.current_A).toBeCloseTo(55, 9)
  expect(short?.volts.get(0)).toBeCloseTo(8.25, 9)
})

test('a short at either end of any conductor: its current, the way back that gives least or most, and what passes each component', () => {
  let shorts = 0
  let passed = 0
  let own = 0
  let nearer = 0
  fc.assert(
    fc.property(randomDocument, (document) => {
      const circuit = circuitOf(document)
      for (const source of circuit.componentsOf('battery')) {
        const passive = passiveOf(circuit, { isHot: true, only: source })
        for (const conductor of circuit.componentsOf('conductor')) {
          const element = circuit.network.elementsOf.get(conductor)?.[0] ?? -1
          const end = circuit.paths.farEnd({ source, element })
          const fault = circuit.faultAt({ source, conductor })
          if (end === null) {
            expect(fault).toBeNull()
            continue
          }
          const a = passive.node(circuit.network.terminals[end] as string)
          const returns = [
            'chassis:battery0',
            ...circuit
              .loadsBehind(conductor)
              // Where a further device parts them, its wires lie elsewhere.
              .filter((one) => circuit.kindOf(one) === 'load' && devices(circuit, source, one) === devices(circuit, source, conductor))
              .map((one) => `${one}:-`),
          ]
          const shortsAt = (node: number) =>
            returns
              .flatMap((terminal) => shorted(passive, node, passive.node(terminal)) ?? [])
              .filter((one) => one.current_A > 1e-6)
              .sort((one, other) => one.current_A - other.current_A)
          const least = shortsAt(a)[0]
          // A relay's coil returns by 85; its way back is no load's own, and gives no less than the chassis it stands on.
          if (!least) {
            expect(fault?.current_A ?? null).toBeNull()
            continue
          }
          if (!fault || !isNear(fault.current_A, least.current_A))
            expect.fail(`${conductor} from ${source}: ${fault?.current_A} A, by elimination ${least.current_A} A`)
          shorts++
          if (!fault.to.startsWith('chassis')) own++
          const { from, to } = circuit.network.elements[element] as { readonly from: number; readonly to: number }
          const b = passive.node(circuit.network.terminals[end === to ? from : to] as string)
          // Where no battery drives a short at the near end, the far end's stands for it.
          const most_A = shortsAt(b).at(-1)?.current_A ?? least.current_A
          if (!isNear(fault.near_A, most_A))
            expect.fail(`near end of ${conductor} from ${source}: ${fault.near_A} A, by elimination ${most_A} A`)
          if (fault.near_A > fault.current_A * 1.01) nearer++
          for (const [place, node, back, short_A] of [
            ['far', a, fault.to, fault.current_A],
            ['near', shortsAt(b).length > 0 ? b : a, fault.nearTo, fault.near_A],
          ] as const) {
            const again = shorted(passive, node, passive.node(back))
            if (!again) expect.fail(`${conductor}: no short to ${back}`)
            for (const component of circuit.componentsOf('conductor', 'fuse', 'breaker', 'switch')) {
              const expected_A = through_A(passive, again, component)
              if (expected_A === null) continue
              const found_A: number | null = fault.through_A(component, place)
              if (found_A === null || Math.abs(found_A - expected_A) > RELATIVE * Math.max(expected_A, short_A))
                expect.fail(`${component}, short at the ${place} end of ${conductor}: ${found_A} A, by elimination ${expected_A} A`)
              if (expected_A > 1e-3) passed++
            }
          }
        }
      }
    }),
    settings,
  )
  expect(shorts).toBeGreaterThan(300)
  expect(own).toBeGreaterThan(20)
  expect(nearer).toBeGreaterThan(100)
  expect(passed).toBeGreaterThan(2000)
})

test('what a device may have to break: all batteries, cold, a short at either end of it', () => {
  let devices = 0
  fc.assert(
    fc.property(randomDocument, (document) => {
      const circuit = circuitOf(document)
      const passive = passiveOf(circuit, { isHot: false, only: null })
      for (const device of circuit.componentsOf('fuse', 'breaker')) {
        const ends = ['in', 'out'].map((name) => passive.node(`${device}:${name}`))
        const most_A = Math.max(
          0,
          ...ends.map((end) => {
            const short = shorted(passive, end, passive.node('chassis:battery0'))
            return short ? (through_A(passive, short, device) ?? short.current_A) : 0
          }),
        )
        const found_A = circuit.prospectiveAt(device)?.current_A ?? 0
        if (!isNear(found_A, most_A)) expect.fail(`${device}: ${found_A} A, by elimination ${most_A} A`)
        devices++
      }
    }),
    settings,
  )
  expect(devices).toBeGreaterThan(60)
})

function devices(circuit: SolvedCircuit, source: string, component: string): number {
  return circuit.devicesBetween(source, component).length
}
