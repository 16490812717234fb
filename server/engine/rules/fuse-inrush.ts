import type { Circuit, SolvedCondition } from '../circuit.ts'
import { windowOfDevice } from '../clearing.ts'
import { type Inrush, inrushOf, steadyOf_A } from '../inrush.ts'
import { MELTING_s } from '../tables/fuse-windows.ts'
import { defineRule, type Reading, type Worked } from './rule.ts'

export const fuseInrush = defineRule({
  id: 'fuse-inrush',
  title: 'Inrush through a fuse',
  why: 'A fuse that takes the inrush of its load every time ages with each start and opens one day with nothing wrong.',
  formula:
    'inrush² × time ÷ 3 ≤ the link’s melting I²t; else the time against the opening window at the next listed multiple of the rating',
  limits: 'Clear below 80 % of the melting I²t or below the window’s shortest time, tight inside the window, over beyond its longest time.',
  judgedIn: 'condition',
  appliesTo: ['fuse'],
  needs: ['rated_A, form', 'inrush_A and inrush_s or nature of the loads that start together'],
  sources: [
    { title: 'Type C, E and F data sheets as transcribed (ISO 8820-3)', place: 'opening windows, melting I²t', grade: 'read' },
    { title: 'A decaying pulse', place: 'a triangle of that height and length holds a third of the energy', grade: 'computed' },
  ],
  remedy: 'Fit a slower form or the next rating where the conductor behind it allows, or start the loads one after another.',
  read: ({ circuit, solved, component }) => {
    if (!solved.solved) return null
    const loads = circuit
      .loadsBehind(component)
      .filter((load) => (circuit.kindOf(load) === 'relay' ? solved.works(load) : solved.isOn(load)))
    const steady_A = Math.abs(solved.current_A(component) ?? 0)
    return startsOf(circuit, loads).map((starting) => readingOf({ circuit, solved, component, steady_A, starting }))
  },
})

/** Loads that start at one moment: those on the same contact. A load with none starts alone. */
function startsOf(circuit: Circuit, loads: readonly string[]): readonly (readonly string[])[] {
  const groups = new Map<string, string[]>()
  for (const load of loads) {
    const contact = circuit.contactOf(load) || load
    const known = groups.get(contact)
    if (known) known.push(load)
    else groups.set(contact, [load])
  }
  return [...groups.values()]
}

function readingOf(given: {
  readonly circuit: Circuit
  readonly solved: SolvedCondition
  readonly component: string
  readonly steady_A: number
  readonly starting: readonly string[]
}): Reading {
  const { circuit, solved, component, steady_A, starting } = given
  const { name } = circuit.component(component)
  const rated = circuit.rating(component, 'rated_A')
  const form = circuit.rawRating(component, 'form')
  const inrushes = starting.map((load) => inrushOf({ circuit, solved, load }))
  // A fuse that shares its loads with another feed takes its share of their inrush; the other loads run on meanwhile.
  const all_A = together_A({ circuit, solved, loads: circuit.loadsBehind(component) })
  const share = all_A > 0 ? Math.min(1, steady_A / all_A) : 1
  const others_A = Math.max(0, steady_A - share * together_A({ circuit, solved, loads: starting }))
  const isOpen = inrushes.some((one) => one.current_A === null)
  const peak_A = inrushes.reduce<number | null>(
    (sum, one) => (sum === null || one.most_A === null ? null : sum + share * one.most_A),
    others_A,
  )
  const lasting = inrushes.filter((one) => (one.most_A ?? 0) > steadyOf_A({ circuit, solved, load: one.load }))
  const duration_s = lasting.some((one) => one.duration_s === null) ? null : Math.max(0, ...lasting.map((one) => one.duration_s as number))
  const names = starting.map((load) => circuit.component(load).name).join(' and ')
  const plain: Reading = {
    value: null,
    limit: null,
    unit: 's',
    grades: [rated?.grade ?? 'assumed', ...inrushes.map((one) => one.grade)],
    subject: `At the start of ${names}, ${name} sees inrush for`,
    atLeastBecause: solved.unknownLoads(component),
    worked() {
      return figures({
        circuit,
        rated_A: rated?.value ?? null,
        form: typeof form === 'string' ? form : null,
        inrushes,
        others_A,
        peak_A,
        duration_s,
      })
    },
  }
  if (!rated) return { ...plain, missing: ['rated current'] }
  const inrushMissing = inrushes.filter((one) => one.current_A === null).map((one) => `inrush of ${circuit.component(one.load).name}`)
  if (peak_A === null) return { ...plain, missing: inrushMissing }
  if (peak_A <= rated.value) return { ...plain, holds: true, statement: `${name} carries the start of ${names} within its rating.` }
  if (duration_s === null)
    return {
      ...plain,
      missing: [
        ...inrushMissing,
        ...lasting
          .filter((one) => one.duration_s === null)
          .map((one) => `how long the inrush of ${circuit.component(one.load).name} lasts`),
      ],
    }
  const melting_s = MELTING_s[String(form)]
  const pulse_A2s = (peak_A * peak_A * duration_s) / 3
  const melting: Reading | null =
    melting_s === undefined
      ? null
      : {
          ...plain,
          value: pulse_A2s,
          limit: melting_s * rated.value * rated.value,
          unit: 'A²s',
          grades: [...plain.grades, 'typical'],
          subject: `The start of ${names} puts into ${name}`,
          limitIs: 'melting I²t',
        }
  // What is less than the link melts with, however fast, cannot open it.
  if (melting && pulse_A2s <= 0.8 * (melting.limit as number)) return melting
  if (isOpen) return { ...plain, missing: inrushMissing }
  const rows = windowOfDevice(circuit, { device: component, rated_A: rated.value })
  if (!rows) return { ...plain, missing: ['opening times of its form'] }
  const row = rows.find((one) => one.percent >= (peak_A / rated.value) * 100 * (1 - 1e-9))
  if (!row) return melting ?? { ...plain, missing: ['melting I²t of its form'] }
  if (row.longest_s === null) return { ...plain, holds: true, statement: `${name} holds the start of ${names} by its form.` }
  return {
    ...plain,
    value: duration_s,
    limit: row.longest_s,
    tightAbove: row.shortest_s === null ? null : row.shortest_s / row.longest_s,
    missing: row.shortest_s === null ? [`the shortest time of its form at ${row.percent} %`] : [],
    overStands: true,
    limitIs: 'longest opening time',
  }
}

function figures(given: {
  readonly circuit: Circuit
  readonly rated_A: number | null
  readonly form: string | null
  readonly inrushes: readonly Inrush[]
  readonly others_A: number
  readonly peak_A: number | null
  readonly duration_s: number | null
}): readonly Worked[] {
  const { circuit, rated_A, form, inrushes, others_A, peak_A, duration_s } = given
  const melting_s = MELTING_s[form ?? '']
  return [
    ...inrushes.map((one) => ({
      name: `inrush of ${circuit.component(one.load).name}`,
      value: one.current_A,
      unit: 'A',
      grade: one.grade,
    })),
    { name: 'what else flows meanwhile', value: others_A, unit: 'A' },
    { name: 'together', value: peak_A, unit: 'A' },
    { name: 'rating', value: rated_A, unit: 'A' },
    { name: 'form', value: form, unit: '' },
    { name: 'time', value: duration_s, unit: 's' },
    {
      name: 'melting I²t of such a link',
      value: melting_s !== undefined && rated_A !== null ? melting_s * rated_A ** 2 : null,
      unit: 'A²s',
    },
  ]
}

function together_A(given: { readonly circuit: Circuit; readonly solved: SolvedCondition; readonly loads: readonly string[] }): number {
  const { circuit, solved, loads } = given
  let sum_A = 0
  for (const load of loads) sum_A += steadyOf_A({ circuit, solved, load })
  return sum_A
}
