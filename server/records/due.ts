/** What is due, over every vehicle: by date, by distance, or by whichever comes first. */
import type { Actor } from './contract.ts'
import type { Db } from './database.ts'
import { daysFrom, plusDays } from './days.ts'
import type { Facts } from './facts.ts'
import { factsOf } from './projection.ts'
import { standingEntry } from './standing.ts'
import type { Due, Unfinished } from './state.ts'

export type Standing = 'overdue' | 'soon' | 'later'
export type DueItem = Omit<Due, 'entryId'> & {
  readonly vehicleId: string
  readonly vehicleName: string
  readonly componentName: string | null
  readonly standing: Standing
  /** until the day; below none once it has passed; null where no day is set */
  readonly left_days: number | null
  /** until the reading, from the last one recorded; null where either is not known */
  readonly left_km: number | null
  /** an estimate from the readings of the last year of the day the distance is reached; null where that would be a guess */
  readonly about: string | null
}
export type UnfinishedItem = Omit<Unfinished, 'entryId'> & {
  readonly vehicleId: string
  readonly vehicleName: string
  readonly componentNames: readonly string[]
}
export type DueList = { readonly unfinished: readonly UnfinishedItem[]; readonly items: readonly DueItem[] }

/** What is near enough to be called soon. */
export const soon = { days: 30, km: 500 } as const
const readingsOf_days = 365
/** An estimate further off than this says nothing. */
const furthest_days = 5 * 365

/**
 * Oldest unfinished first; then what is overdue, soon and later, each by the day that comes first. Asks what is kept of each vehicle, no
 * journal: a household of many vehicles has one list.
 */
export function dueList(db: Db, actor: Actor, given: { readonly today: string; readonly vehicleId?: string | undefined }): DueList {
  const own = 'SELECT id FROM vehicles WHERE household_id = ? AND id = coalesce(?, id) ORDER BY id'
  const ids = db.$client
    .prepare(own)
    .pluck()
    .all(actor.householdId, given.vehicleId ?? null) as string[]
  const facts = [...factsOf(db, actor, ids)]
  const nameOf = namesOf(
    db,
    actor,
    facts.flatMap(([id, { due, unfinished }]) =>
      [...due.map((one) => one.component ?? ''), ...unfinished.flatMap((one) => one.components)].map((key) => `${id} ${key}`),
    ),
  )
  const lists = facts.map(([vehicleId, one]) => dueIn(db, actor, { vehicleId, facts: one, nameOf, today: given.today }))
  return {
    unfinished: lists.flatMap((one) => one.unfinished).sort((a, b) => compare(a.since, b.since)),
    items: lists.flatMap((one) => one.items).sort((a, b) => order[a.standing] - order[b.standing] || compare(firstDay(a), firstDay(b))),
  }
}

/** Readings of the journal in its order, from and up to and including a day. */
export function readingsOf(
  db: Db,
  actor: Actor,
  vehicleId: string,
  given: { readonly from?: string; readonly upTo?: string } = {},
): readonly Reading[] {
  const sql = `SELECT e.effective_on AS "on", e.odometer_km FROM entries e INDEXED BY entries_by_vehicle
    WHERE e.vehicle_id = ? AND e.household_id = ? AND e.effective_on BETWEEN ? AND ? AND e.odometer_km IS NOT NULL AND ${standingEntry}
    ORDER BY e.effective_on, e.place_id`
  return db.$client.prepare(sql).all(vehicleId, actor.householdId, given.from ?? '', given.upTo ?? '9999-12-31') as Reading[]
}

export type Reading = { readonly on: string; readonly odometer_km: number }

/**
 * The day a distance is reached if the vehicle goes on as in the last year, from its first to its last reading there. None from
 * fewer than two days of readings, from readings that do not rise (a new odometer, a wrong figure), or where that day is years off.
 */
export function estimatedDay(readings: readonly Reading[], given: { readonly odometer_km: number; readonly today: string }): string | null {
  const lately = readings.filter(({ on }) => on <= given.today && daysFrom({ from: on, to: given.today }) <= readingsOf_days)
  const first = lately[0]
  const last = lately.at(-1)
  if (!first || !last || first.on === last.on || last.odometer_km <= first.odometer_km) return null
  if (lately.some((reading, n) => n > 0 && reading.odometer_km < (lately[n - 1] as Reading).odometer_km)) return null
  const perDay_km = (last.odometer_km - first.odometer_km) / daysFrom({ from: first.on, to: last.on })
  const ahead_days = Math.round((given.odometer_km - last.odometer_km) / perDay_km)
  return ahead_days > furthest_days ? null : plusDays(last.on, Math.max(0, ahead_days))
}

const order: Readonly<Record<Standing, number>> = { overdue: 0, soon: 1, later: 2 }

type Naming = (vehicleId: string, component: string) => string

/** What components are called today, by "vehicle component"; one that is gone is called by its key. */
function namesOf(db: Db, actor: Actor, refs: readonly string[]): Naming {
  const sql =
    "SELECT ref_id, title FROM search_rows WHERE household_id = ? AND kind = 'component' AND ref_id IN (SELECT value FROM json_each(?))"
  const names = new Map(db.$client.prepare(sql).raw().all(actor.householdId, JSON.stringify(refs)) as [string, string][])
  return (vehicleId, component) => names.get(`${vehicleId} ${component}`) ?? component
}

function dueIn(
  db: Db,
  actor: Actor,
  given: { readonly vehicleId: string; readonly facts: Facts; readonly nameOf: Naming; readonly today: string },
): DueList {
  const { vehicleId, facts, today } = given
  const vehicle = { vehicleId, vehicleName: facts.name }
  const nameOf = (key: string): string => given.nameOf(vehicleId, key)
  const byDistance = facts.due.some((one) => one.odometer_km !== undefined)
  const readings = byDistance ? readingsOf(db, actor, vehicleId, { from: plusDays(today, -readingsOf_days), upTo: today }) : []
  const items = facts.due.map((due): DueItem => {
    const left_days = due.on === undefined ? null : daysFrom({ from: today, to: due.on })
    const left_km = due.odometer_km === undefined || facts.odometer_km === null ? null : due.odometer_km - facts.odometer_km
    const about =
      due.odometer_km === undefined || (left_km ?? 0) <= 0 ? null : estimatedDay(readings, { odometer_km: due.odometer_km, today })
    const standing = standingOf({ left_days, left_km, about_days: about === null ? null : daysFrom({ from: today, to: about }) })
    const componentName = due.component === undefined ? null : nameOf(due.component)
    return { ...due, ...vehicle, componentName, standing, left_days, left_km, about }
  })
  const unfinished = facts.unfinished.map((one) => ({ ...one, ...vehicle, componentNames: one.components.map(nameOf) }))
  return { unfinished, items }
}

/** Whichever comes first. On the very day, or at the very reading, it is not overdue yet. An estimate alone never makes it overdue. */
function standingOf(given: {
  readonly left_days: number | null
  readonly left_km: number | null
  readonly about_days: number | null
}): Standing {
  const { left_days, left_km, about_days } = given
  if ((left_days ?? 0) < 0 || (left_km ?? 0) < 0) return 'overdue'
  const near = (left_days ?? Infinity) <= soon.days || (left_km ?? Infinity) <= soon.km || (about_days ?? Infinity) <= soon.days
  return near ? 'soon' : 'later'
}

/** What has neither a day nor an estimate comes last. */
function firstDay(item: DueItem): string {
  const days = [item.on, item.about].filter((one): one is string => typeof one === 'string')
  return days.sort()[0] ?? '9999'
}

function compare(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0
}
