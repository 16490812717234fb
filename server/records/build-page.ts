/**
 * Past 200 lines: everything that a build page may know, in one place to be read as a whole. Each question asks the database for the columns
 * that may be shown and no others; what is private by its kind is asked for only where the link lets it through.
 */
import { changeKind } from './changes/index.ts'
import { noteName } from './component-name.ts'
import type { Actor, Change } from './contract.ts'
import type { Db } from './database.ts'
import type { Report, VehicleDocument } from './engine-types.ts'
import type { Mask } from './masks.ts'
import { privateMask } from './private-mask.ts'
import { reportOn } from './projection.ts'
import { currencyOf } from './settings.ts'
import type { OpenShare, Private } from './shares.ts'
import { standingEntry } from './standing.ts'
import { stateOn } from './state.ts'

export type Identity = {
  readonly name: string
  readonly make: string
  readonly model: string
  readonly year: string
  readonly systemVoltage_V: number
  readonly odometer: { readonly km: number; readonly on: string } | null
  /** null where it is left out; empty where it is not recorded */
  readonly vin: string | null
  readonly plate: string | null
  readonly keptAt: string | null
  readonly left: { readonly on: string; readonly how: string; readonly to: string } | null
  readonly firstOn: string | null
}
export type ToldWork = {
  readonly on: string
  readonly title: string
  readonly text: string
  readonly odometer_km: number | null
  readonly sentences: readonly string[]
  /** empty where names are left out */
  readonly by: string
  /** null: left out or not recorded */
  readonly cost_minor: number | null
}
export type ToldReading = {
  readonly on: string
  readonly place: string
  readonly quantity: string
  readonly value: number
  readonly condition: string
}
export type ToldPhoto = {
  /** from 1, in the order they were recorded */
  readonly number: number
  readonly width_px: number
  readonly height_px: number
  readonly caption: string
  readonly component: string
}
export type PhotoSource = { readonly sha256: string; readonly type: string }
export type ToldPurchase = {
  readonly on: string
  readonly part: string
  readonly count: number
  /** null: left out or not recorded */
  readonly price_minor: number | null
  /** empty: left out or not recorded */
  readonly supplier: string
}
export type Open = {
  readonly unfinished: readonly { readonly since: string; readonly text: string }[]
  readonly due: readonly { readonly what: string; readonly on: string; readonly odometer_km: number | null }[]
}

/** What somebody ticks to be let through, and whether it is here. */
export function lets(share: OpenShare, one: Private): boolean {
  return share.shows.lets.includes(one)
}

/** The wiring as it stands and what the check says of it. A document holds no VIN, plate, name of a person or price. */
export function judgedFor(db: Db, share: OpenShare): { readonly document: VehicleDocument; readonly report: Report } {
  const { document, report } = reportOn(db, reader(share), share.vehicleId)
  return { document, report }
}

export function identityFor(db: Db, share: OpenShare): Identity {
  const { vehicle } = stateOn(db, reader(share), share.vehicleId)
  const word = (name: string): string => (typeof vehicle[name] === 'string' ? (vehicle[name] as string) : '')
  const first = `SELECT min(e.effective_on) FROM entries e WHERE e.vehicle_id = ? AND e.household_id = ? AND ${standingEntry}`
  const last = `SELECT e.odometer_km AS km, e.effective_on AS "on" FROM entries e WHERE e.vehicle_id = ? AND e.household_id = ?
    AND e.odometer_km IS NOT NULL AND ${standingEntry} ORDER BY e.effective_on DESC, e.place_id DESC LIMIT 1`
  return {
    ...{ name: vehicle.name, make: word('make'), model: word('model'), year: word('year'), systemVoltage_V: vehicle.systemVoltage_V },
    odometer: (ask(db, share, last).get() as Identity['odometer']) ?? null,
    vin: lets(share, 'vin') ? word('vin') : null,
    plate: lets(share, 'plate') ? word('plate') : null,
    keptAt: lets(share, 'addresses') ? word('keptAt') : null,
    left: word('leftOn') === '' ? null : { on: word('leftOn'), how: word('leftHow'), to: lets(share, 'names') ? word('leftTo') : '' },
    firstOn: (ask(db, share, first).pluck().get() as string | null) ?? null,
  }
}

/** What is still to be entered or looked at. */
export function openFor(db: Db, share: OpenShare): Open {
  const { unfinished, due } = stateOn(db, reader(share), share.vehicleId)
  const { words } = maskFor(db, share)
  return {
    unfinished: [...unfinished.values()].map(({ since, text }) => ({ since, text: words(text) })),
    due: [...due.values()].map(({ what, on = '', odometer_km = null }) => ({ what: words(what), on, odometer_km })),
  }
}

/** Entries that stand, the newest first, from the day on that the link says. */
export function journalFor(db: Db, share: OpenShare): readonly ToldWork[] {
  const by = lets(share, 'names') ? "coalesce((SELECT p.name FROM people p WHERE p.id = e.recorded_by), '')" : "''"
  const cost = lets(share, 'prices') ? 'e.cost_minor' : 'NULL'
  const sql = `SELECT e.id, e.effective_on AS "on", e.title, e.text, e.odometer_km, ${by} AS author, ${cost} AS cost_minor FROM entries e
    WHERE e.vehicle_id = ? AND e.household_id = ? AND e.effective_on >= ? AND ${standingEntry} ORDER BY e.effective_on DESC, e.place_id DESC`
  const rows = ask(db, share, sql, [share.shows.journalFrom ?? '']).all() as {
    id: string
    on: string
    title: string
    text: string
    odometer_km: number | null
    author: string
    cost_minor: number | null
  }[]
  const { words } = maskFor(db, share)
  const sentences = new Map<string, string[]>()
  for (const { entryId, sentence } of toldChanges(db, share)) sentences.set(entryId, [...(sentences.get(entryId) ?? []), words(sentence)])
  return rows.map(({ id, on, title, text, odometer_km, author, cost_minor }) => ({
    ...{ on, title: words(title), text: words(text), odometer_km, by: author, cost_minor },
    sentences: sentences.get(id) ?? [],
  }))
}

/** What was measured, the newest first. */
export function readingsFor(db: Db, share: OpenShare): readonly ToldReading[] {
  const { conditions } = stateOn(db, reader(share), share.vehicleId)
  return [...toldChanges(db, share)]
    .flatMap(({ on, change, nameOf }) => {
      if (change.kind !== 'measured') return []
      const [key = '', terminal] = change.at.split(':')
      const place = terminal === undefined ? nameOf(key) : `${nameOf(key)}, terminal ${terminal}`
      const condition = change.condition === undefined ? '' : (conditions.get(change.condition)?.name ?? '')
      return [{ on, place, quantity: change.quantity, value: change.value, condition }]
    })
    .reverse()
}

/** Photos that were here when the link was made, but for those taken off it. Papers are never among them. */
export function photosFor(db: Db, share: OpenShare): readonly ToldPhoto[] {
  const { components } = stateOn(db, reader(share), share.vehicleId)
  const { words } = maskFor(db, share)
  return photoRows(db, share, 'p.width_px, p.height_px, p.caption, p.component_key AS component').map((row, index) => ({
    number: index + 1,
    width_px: Number(row.width_px ?? 0),
    height_px: Number(row.height_px ?? 0),
    caption: words(String(row.caption)),
    component: components.get(String(row.component ?? ''))?.name ?? '',
  }))
}

/** The original behind the photo of that number; null where the link shows none. */
export function photoSourceFor(db: Db, share: OpenShare, number: number): PhotoSource | null {
  const row = photoRows(db, share, 'p.sha256, p.type')[number - 1]
  return row ? { sha256: String(row.sha256), type: String(row.type) } : null
}

/** What the owner picks from: the photos as they would be numbered if none were left out. */
export function photoIdsFor(db: Db, share: OpenShare): readonly string[] {
  return photoRows(db, { ...share, shows: { ...share.shows, withoutPhotos: [] } }, 'p.id').map((row) => String(row.id))
}

/** What was bought of the parts that this vehicle holds or held, the newest first. */
export function purchasesFor(db: Db, share: OpenShare): readonly ToldPurchase[] {
  const price = lets(share, 'prices') ? 'p.price_minor' : 'NULL'
  const supplier = lets(share, 'suppliers') ? 'p.supplier' : "''"
  const sql = `SELECT p.bought_on AS "on", p.part_id AS partId, p.count, ${price} AS price_minor, ${supplier} AS supplier FROM purchases p
    WHERE p.household_id = ? AND p.part_id IN (SELECT value FROM json_each(?)) ORDER BY p.bought_on DESC, p.id DESC`
  const rows = db.$client.prepare(sql).all(share.householdId, JSON.stringify(partsEver(db, share))) as (Omit<ToldPurchase, 'part'> & {
    partId: string
  })[]
  return rows.map(({ partId, ...row }) => ({ ...row, part: partName(db, share, partId) }))
}

/** What the journal says that work cost from the day on that the link says, by year, the newest first; null where prices are left out. */
export function costsFor(db: Db, share: OpenShare): readonly { readonly year: string; readonly sum_minor: number }[] | null {
  if (!lets(share, 'prices')) return null
  const sql = `SELECT substr(e.effective_on, 1, 4) AS year, sum(e.cost_minor) AS sum_minor FROM entries e
    WHERE e.vehicle_id = ? AND e.household_id = ? AND e.effective_on >= ? AND e.cost_minor IS NOT NULL AND ${standingEntry} GROUP BY 1 ORDER BY 1 DESC`
  return ask(db, share, sql, [share.shows.journalFrom ?? '']).all() as { year: string; sum_minor: number }[]
}

/** Where spares of a part lie, by part id; empty where places are left out. */
export function placesFor(db: Db, share: OpenShare): ReadonlyMap<string, string> {
  if (!lets(share, 'places')) return new Map()
  const sql = `SELECT c.part_id AS part, c.place FROM stock_counts c WHERE c.household_id = ? AND c.place IS NOT NULL AND c.count > 0
      AND c.rowid = (SELECT max(l.rowid) FROM stock_counts l WHERE l.part_id = c.part_id)
    UNION ALL SELECT l.part_id, l.place FROM leftovers l WHERE l.household_id = ? AND l.used_at IS NULL`
  const places = new Map<string, string>()
  for (const { part, place } of db.$client.prepare(sql).all(share.householdId, share.householdId) as { part: string; place: string }[])
    if (place !== '') places.set(part, [places.get(part), place].filter((one) => one !== undefined).join(', '))
  return places
}

export function currencyFor(db: Db, share: OpenShare): string {
  return currencyOf(db, reader(share))
}

const masks = new WeakMap<OpenShare, Mask>()

export function maskFor(db: Db, share: OpenShare): Mask {
  const known = masks.get(share)
  if (known) return known
  const made = privateMask(db, { ...share, lets: (one) => lets(share, one) })
  masks.set(share, made)
  return made
}

/** Changes of entries that stand, oldest first, told by the names in force right after each. */
function* toldChanges(db: Db, share: OpenShare) {
  const sql = `SELECT e.id AS entryId, e.effective_on AS "on", c.kind, c.payload FROM entries e JOIN changes c ON c.entry_id = e.id
    WHERE e.vehicle_id = ? AND e.household_id = ? AND ${standingEntry} ORDER BY e.effective_on, e.place_id, c.position`
  const rows = ask(db, share, sql).all() as { entryId: string; on: string; kind: string; payload: string }[]
  const names = new Map<string, string>()
  const nameOf = (key: string): string => names.get(key) ?? 'a component'
  const partNames = new Map<string, string>()
  const part = (id: string): string => {
    const name = partNames.get(id) ?? partName(db, share, id)
    partNames.set(id, name)
    return name
  }
  for (const { entryId, on, kind, payload: text } of rows) {
    const payload = JSON.parse(text) as Record<string, unknown>
    if (kind === 'left' && !lets(share, 'names')) delete payload.to
    const sentence = changeKind(kind)?.sentence(payload, { component: nameOf, part }) ?? ''
    const change = { kind, ...payload } as Change
    noteName(names, change)
    if (on >= (share.shows.journalFrom ?? '')) yield { entryId, on, change, sentence, nameOf }
  }
}

function photoRows(db: Db, share: OpenShare, columns: string): readonly Readonly<Record<string, unknown>>[] {
  const sql = `SELECT ${columns} FROM photos p WHERE p.vehicle_id = ? AND p.household_id = ? AND p.trashed_at IS NULL AND p.recorded_at <= ?
    AND p.type IN ('image/jpeg', 'image/png', 'image/webp', 'image/avif') AND p.id NOT IN (SELECT value FROM json_each(?)) ORDER BY p.id`
  return ask(db, share, sql, [share.photosUntil, JSON.stringify(share.shows.withoutPhotos)]).all() as Record<string, unknown>[]
}

function partsEver(db: Db, share: OpenShare): readonly string[] {
  const sql = `SELECT DISTINCT coalesce(json_extract(c.payload, '$.component.part'), json_extract(c.payload, '$.part')) FROM changes c
    WHERE c.vehicle_id = ? AND c.household_id = ? AND c.kind IN ('fitted', 'swapped')`
  return (ask(db, share, sql).pluck().all() as (string | null)[]).filter((one) => one !== null)
}

function partName(db: Db, share: OpenShare, partId: string): string {
  const sql = 'SELECT name FROM part_revisions WHERE part_id = ? AND household_id = ? ORDER BY rowid DESC LIMIT 1'
  return String(db.$client.prepare(sql).pluck().get(partId, share.householdId) ?? 'a part')
}

/** A question of this vehicle: its first two places are the vehicle and its household. */
function ask(db: Db, share: OpenShare, sql: string, more: readonly string[] = []) {
  return db.$client.prepare(sql).bind(share.vehicleId, share.householdId, ...more)
}

/** For questions of the wiring alone, which know only which household's it is. */
function reader(share: OpenShare): Actor {
  return { householdId: share.householdId, personId: '', name: '' }
}
