/** What the trade looks at again after fitting a part. Offered, never set unasked. Every row is common practice: it is no standard's and no sheet's. */
import type { Change, SavedEntry } from './contract.ts'
import { plusMonths } from './days.ts'
import type { Component, Part } from './engine-types.ts'
import type { State } from './state.ts'

export type DueDefault = {
  readonly id: string
  readonly grade: 'common practice'
  /** for which parts, in words */
  readonly of: string
  readonly suits: (part: Part, component: Component) => boolean
  /** what to do, `name` being the component's */
  readonly what: (name: string) => string
  readonly after_months: number
  readonly after_km?: number
  readonly every_months?: number
  readonly why: string
}
export type Offer = {
  readonly id: string
  readonly grade: DueDefault['grade']
  readonly why: string
  readonly change: Extract<Change, { kind: 'due-set' }>
}

const boltedFuses: readonly unknown[] = ['SF30', 'SF51', 'single-bolt', 'class-T']
/** From here up a conductor ends in lugs under bolts rather than in blades or pins. */
const leastLugged_mm2 = 16

export const dueDefaults: readonly DueDefault[] = [
  {
    id: 'retorque',
    grade: 'common practice',
    of: `what is held by bolts: batteries, stud blocks, ground points, bolted fuses, conductors of ${leastLugged_mm2} mm² or more, and fittings said to be a ring or a lug`,
    suits: isBolted,
    what: (name) => `Retorque the terminals of ${name}`,
    after_months: 1,
    after_km: 500,
    why: 'Crimps and bolted lugs settle in their first heat cycles; a joint that was tight when cold may not be.',
  },
  {
    id: 'ground',
    grade: 'common practice',
    of: 'ground points',
    suits: (part) => part.kind === 'ground-point',
    what: (name) => `Look at ${name}: clean, tight, no rust under the lugs`,
    after_months: 12,
    every_months: 12,
    why: 'A ground goes bad slowly, from rust under its lugs, and every load on it suffers at once.',
  },
  {
    id: 'hose',
    grade: 'common practice',
    of: 'fuel hose',
    suits: (part) => part.kind === 'hose',
    what: (name) => `Look along ${name}: cracks, chafing, wet clamps`,
    after_months: 12,
    every_months: 12,
    why: 'Hose hardens with heat and age, and a leak near hot parts gives no second warning.',
  },
  {
    id: 'battery',
    grade: 'common practice',
    of: 'batteries',
    suits: (part) => part.kind === 'battery',
    what: (name) => `Test ${name} under load`,
    after_months: 12,
    every_months: 12,
    why: 'A battery that has lost its capacity still shows its full voltage at rest.',
  },
]

/**
 * What may be put on the list for what an entry fitted and is still there, and not on it yet. The distance counts from the entry's
 * own reading; without one only the date is offered.
 */
export function offersFor(given: {
  readonly entry: Pick<SavedEntry, 'changes' | 'effectiveOn' | 'odometer_km' | 'withdrawn'>
  readonly state: State
  readonly parts: ReadonlyMap<string, Part>
}): readonly Offer[] {
  const { entry, state, parts } = given
  if (entry.withdrawn) return []
  const keys = entry.changes.flatMap((change) =>
    change.kind === 'fitted' ? [change.component.key] : change.kind === 'swapped' ? [change.component] : [],
  )
  return [...new Set(keys)].flatMap((key) => {
    const component = state.components.get(key)
    const part = parts.get(component?.part ?? '')
    if (!component || !part) return []
    return dueDefaults
      .filter((row) => row.suits(part, component))
      .map((row) => ({ id: row.id, grade: row.grade, why: row.why, change: changeOf(row, component, entry) }))
      .filter((offer) => !state.due.has(offer.change.key))
  })
}

function changeOf(
  row: DueDefault,
  component: Component,
  entry: { readonly effectiveOn: string; readonly odometer_km: number | null },
): Offer['change'] {
  return {
    kind: 'due-set',
    key: `${row.id}-${component.key}`.slice(0, 80),
    component: component.key,
    what: row.what(component.name),
    on: plusMonths(entry.effectiveOn, row.after_months),
    ...(row.after_km === undefined || entry.odometer_km === null ? {} : { odometer_km: entry.odometer_km + row.after_km }),
    ...(row.every_months === undefined ? {} : { every_months: row.every_months }),
  }
}

function isBolted(part: Part, component: Component): boolean {
  const said = Object.values(component.fittings ?? {}).some((fitting) => /\b(ring|lugs?|bolt(ed)?|studs?)\b/i.test(fitting.terminal ?? ''))
  const { form, crossSection_mm2 } = part.ratings
  return (
    said ||
    ['battery', 'block', 'ground-point'].includes(part.kind) ||
    (part.kind === 'fuse' && boltedFuses.includes(form)) ||
    (part.kind === 'conductor' && typeof crossSection_mm2 === 'number' && crossSection_mm2 >= leastLugged_mm2)
  )
}
