/** Past 200 lines: what is written, and how it is made again, belong side by side. What can be found: a row for each entry, component, reading and part, written with the record it speaks of. Never the truth: made again at will. */
import { fieldsOf, partKind } from '../engine/parts/index.ts'
import { placeName } from './changes/joined.ts'
import type { Actor, Change } from './contract.ts'
import type { Db } from './database.ts'
import type { Rating } from './engine-types.ts'
import { type PartRow, partsById } from './part-rows.ts'
import { namesGiven, type ToldEntry, toldEntries, toldEntry } from './sentences.ts'
import { type State, stateOn } from './state.ts'
import { othersGoFirst } from './turns.ts'

export type SearchKind = 'entry' | 'component' | 'part' | 'reading'
type Row = { readonly kind: SearchKind; readonly ref: string; readonly title: string; readonly body: string }

/** Called with an entry that may alter what earlier ones say, and at night: all that a vehicle's records now say. Answers how many rows read otherwise. */
export function keepSearchOfVehicle(db: Db, actor: Actor, vehicleId: string, head: State): number {
  return keepRows(db, actor, { vehicleId, wanted: rowsOfVehicle(db, actor, vehicleId, head), of: everyKind })
}

/** Called with an entry that comes after all others: what they say stays, and only it and the components may read otherwise. */
export function keepSearchOfLast(
  db: Db,
  actor: Actor,
  given: { readonly vehicleId: string; readonly entryId: string; readonly head: State },
): void {
  const { vehicleId, head } = given
  keepSearchOfEntry(db, actor, given)
  keepRows(db, actor, { vehicleId, wanted: rowsOfComponents(db, actor, vehicleId, head), of: ['component'] })
}

/** Called with an entry that comes last and alters no component and no zone: every other row reads as it did. */
export function keepSearchOfEntry(db: Db, actor: Actor, given: { readonly vehicleId: string; readonly entryId: string }): void {
  const told = toldEntry(db, actor, given)
  const put = putting(db, actor, given.vehicleId)
  for (const row of told ? rowsOfEntry(told) : []) put(row)
}

const everyKind: readonly SearchKind[] = ['entry', 'component', 'part', 'reading']

/** Stored are the rows of these kinds that are wanted, and no others. Answers how many had not been so. */
function keepRows(
  db: Db,
  actor: Actor,
  given: { readonly vehicleId: string; readonly wanted: readonly Row[]; readonly of: readonly SearchKind[] },
): number {
  const { vehicleId, of } = given
  const wanted = new Map(given.wanted.map((row) => [`${row.kind} ${row.ref}`, row]))
  const stored = db.$client
    .prepare(
      `SELECT id, kind, ref_id AS ref, title, body FROM search_rows
       WHERE vehicle_id = ? AND household_id = ? AND kind IN (SELECT value FROM json_each(?))`,
    )
    .all(vehicleId, actor.householdId, JSON.stringify(of)) as (Row & { readonly id: number })[]
  const put = putting(db, actor, vehicleId)
  const drop = db.$client.prepare('DELETE FROM search_rows WHERE id = ? AND household_id = ?')
  let otherwise = 0
  for (const { id, kind, ref, title, body } of stored) {
    const now = wanted.get(`${kind} ${ref}`)
    if (!now) otherwise += drop.run(id, actor.householdId).changes
    else if (now.title === title && now.body === body) wanted.delete(`${kind} ${ref}`)
  }
  for (const row of wanted.values()) put(row)
  return otherwise + wanted.size
}

/** Called with every revision of a part. Where its name is another, so are the sentences and places that name it. */
export function keepSearchOfPart(db: Db, actor: Actor, partId: string): void {
  const part = partsById(db, actor).get(partId)
  if (!part) return
  putting(db, actor, null)(rowOfPart(part))
  const before = part.revisions.at(-2)
  if (before === undefined || before.name === part.name) return
  for (const vehicleId of vehiclesThatHeld(db, actor, partId)) keepSearchOfVehicle(db, actor, vehicleId, stateOn(db, actor, vehicleId))
}

/** Makes the rows that are missing: all of them after an upgrade, none on any other day. Answers how many were made. */
export function fillSearch(db: Db): number {
  const before = countOf(db)
  db.$client
    .transaction(() => {
      for (const { householdId, id } of lacking(db, 'vehicles', lacksEntry)) {
        const actor = nobodyOf(householdId)
        keepSearchOfVehicle(db, actor, id, stateOn(db, actor, id))
      }
      for (const { householdId, id } of lacking(db, 'parts', lacksPart)) keepSearchOfPart(db, nobodyOf(householdId), id)
    })
    .immediate()
  return countOf(db) - before
}

const PARTS_A_SLICE = 200
const ROWS_A_SLICE = 2000

/**
 * Compares every row with what the records say and mends those that read otherwise; answers how many did. A vehicle, or some parts, at a
 * time and each in a transaction of its own: a save waits for one of them at most, and where it is cut off the rest is mended the next time.
 */
export async function mendSearch(db: Db, pause: () => Promise<void> = othersGoFirst): Promise<number> {
  let otherwise = 0
  for (const { id, householdId } of ownedBy(db, 'vehicles')) {
    otherwise += inOne(db, () => keepSearchOfVehicle(db, nobodyOf(householdId), id, stateOn(db, nobodyOf(householdId), id)))
    await pause()
  }
  const parts = ownedBy(db, 'parts')
  for (let from = 0; from < parts.length; from += PARTS_A_SLICE) {
    otherwise += inOne(db, () => mendParts(db, parts.slice(from, from + PARTS_A_SLICE)))
    await pause()
  }
  for (let after: number | null = 0; after !== null; ) {
    const strays = straysAfter(db, after)
    otherwise += inOne(db, () => strays.ids.reduce((sum, id) => sum + dropRow(db, id), 0))
    after = strays.last
    await pause()
  }
  return otherwise
}

function inOne(db: Db, work: () => number): number {
  return db.$client.transaction(work).immediate()
}

type Owned = { readonly id: string; readonly householdId: string }

function ownedBy(db: Db, table: 'vehicles' | 'parts'): readonly Owned[] {
  return db.$client.prepare(`SELECT id, household_id AS householdId FROM ${table} ORDER BY id`).all() as Owned[]
}

function mendParts(db: Db, parts: readonly Owned[]): number {
  const read = db.$client.prepare(
    "SELECT title, body, vehicle_id AS vehicleId FROM search_rows WHERE household_id = ? AND kind = 'part' AND ref_id = ?",
  )
  let otherwise = 0
  for (const { id, householdId } of parts) {
    const actor = nobodyOf(householdId)
    const part = partsById(db, actor).get(id)
    if (!part) continue
    const wanted = rowOfPart(part)
    const stored = read.get(householdId, id) as { title: string; body: string; vehicleId: string | null } | undefined
    if (stored?.title === wanted.title && stored.body === wanted.body && stored.vehicleId === null) continue
    putting(db, actor, null)(wanted)
    otherwise += 1
  }
  return otherwise
}

/** Of the next rows those that belong to nothing; `last` null where there are no more. */
function straysAfter(db: Db, after: number): { readonly ids: readonly number[]; readonly last: number | null } {
  const rows = db.$client
    .prepare(
      `SELECT r.id, CASE WHEN r.vehicle_id IS NULL
         THEN r.kind = 'part' AND EXISTS (SELECT 1 FROM parts p WHERE p.id = r.ref_id AND p.household_id = r.household_id)
         ELSE r.kind <> 'part' AND EXISTS (SELECT 1 FROM vehicles v WHERE v.id = r.vehicle_id AND v.household_id = r.household_id) END AS belongs
       FROM search_rows r WHERE r.id > ? ORDER BY r.id LIMIT ?`,
    )
    .all(after, ROWS_A_SLICE) as { id: number; belongs: number }[]
  return {
    ids: rows.flatMap((row) => (row.belongs === 1 ? [] : [row.id])),
    last: rows.length < ROWS_A_SLICE ? null : (rows.at(-1)?.id ?? null),
  }
}

function dropRow(db: Db, id: number): number {
  return db.$client.prepare('DELETE FROM search_rows WHERE id = ?').run(id).changes
}

function rowsOfVehicle(db: Db, actor: Actor, vehicleId: string, head: State): readonly Row[] {
  return [...toldEntries(db, actor, vehicleId).flatMap(rowsOfEntry), ...rowsOfComponents(db, actor, vehicleId, head)]
}

function rowsOfComponents(db: Db, actor: Actor, vehicleId: string, head: State): readonly Row[] {
  const named = namesGiven(db, actor, vehicleId)
  const parts = partsById(db, actor)
  return [...head.components.values()].map((component) => {
    const { key, name, zone, position, number, colour } = component
    const former = [...(named.get(key) ?? [])].filter((one) => one !== name)
    const lines = [
      parts.get(component.part)?.name,
      zone === undefined ? undefined : (head.zones.get(zone)?.name ?? zone),
      position === undefined ? undefined : positionLine(position),
      number === undefined ? undefined : `number ${number}`,
      colour,
      former.length === 0 ? undefined : `formerly ${former.join(', ')}`,
      key,
    ]
    return { kind: 'component', ref: `${vehicleId} ${key}`, title: name, body: lines.filter((one) => one !== undefined).join('\n') }
  })
}

/** The entry itself, also where it was undone, and the readings of one that stands. */
function rowsOfEntry({ row, sentences, nameOf }: ToldEntry): readonly Row[] {
  if (row.correction === 'withdrawn' || row.replacedBy !== null) return []
  const body = [row.text, ...sentences].filter((one) => one !== '').join('\n')
  const entry: Row = { kind: 'entry', ref: row.id, title: row.title, body }
  if (!stands(row)) return [entry]
  const readings = row.changes.flatMap((change, position) =>
    change.kind === 'measured' ? [rowOfReading(change, { row, position, nameOf })] : [],
  )
  return [entry, ...readings]
}

function stands(row: ToldEntry['row']): boolean {
  return row.correction !== 'withdrawn' && row.withdrawnBy === null && row.replacedBy === null
}

/** The line of a component's row that says where it sits. */
export function positionLine(position: string): string {
  return `at ${position}`
}

const units = { voltage: 'V', current: 'A', resistance: 'Ω' } as const

function rowOfReading(
  change: Extract<Change, { kind: 'measured' }>,
  given: {
    readonly row: { readonly id: string; readonly title: string; readonly effectiveOn: string }
    readonly position: number
    readonly nameOf: (component: string) => string
  },
): Row {
  const { row, position, nameOf } = given
  const place = change.at.includes(':') ? placeName(change.at, nameOf) : nameOf(change.at)
  return {
    kind: 'reading',
    ref: `${row.id} ${position}`,
    title: `${change.value} ${units[change.quantity]} at ${place}`,
    body: [`${change.quantity} on ${row.effectiveOn}`, row.title].join('\n'),
  }
}

function rowOfPart(part: PartRow): Row {
  const former = [...new Set(part.revisions.map((one) => one.name))].filter((one) => one !== part.name)
  const lines = [
    partKind(part.kind)?.title ?? part.kind,
    part.revisions.at(-1)?.notes ?? '',
    fieldsOf(part.kind)
      .flatMap((field) => {
        const value = part.ratings[field.name]
        return value === undefined ? [] : [`${field.label} ${ratingWords(value, field.type === 'number' ? field.unit : '')}`]
      })
      .join(', '),
    former.length === 0 ? '' : `formerly ${former.join(', ')}`,
  ]
  return { kind: 'part', ref: part.id, title: part.name, body: lines.filter((one) => one !== '').join('\n') }
}

const unitWords: Readonly<Record<string, string>> = { degC: '°C', ohm: 'Ω', mm2: 'mm²', ohmPerM: 'Ω/m', LPerH: 'L/h' }

function ratingWords(value: Rating, unit: string): string {
  if (typeof value === 'boolean') return value ? 'yes' : 'no'
  if (Array.isArray(value)) return value.map((row) => Object.values(row as object).join(' ')).join(' ')
  if (typeof value === 'object') return Object.values(value as object).join(' ')
  return `${value}${unit === '' ? '' : ` ${unitWords[unit] ?? unit}`}`
}

function putting(db: Db, actor: Actor, vehicleId: string | null): (row: Row) => void {
  const put = db.$client.prepare(
    `INSERT INTO search_rows (household_id, kind, ref_id, vehicle_id, title, body) VALUES (?, ?, ?, ?, ?, ?)
     ON CONFLICT (household_id, kind, ref_id) DO UPDATE SET vehicle_id = excluded.vehicle_id, title = excluded.title, body = excluded.body`,
  )
  return ({ kind, ref, title, body }) => put.run(actor.householdId, kind, ref, vehicleId, title, body)
}

/** An entry that takes or puts back a part moves stock, so the moves name every vehicle that ever held it. */
export function vehiclesThatHeld(db: Db, actor: Actor, partId: string): readonly string[] {
  const sql = `SELECT DISTINCT e.vehicle_id FROM stock_moves m JOIN entries e ON e.id = m.entry_id
    WHERE m.part_id = ? AND m.household_id = ? ORDER BY e.vehicle_id`
  return db.$client.prepare(sql).pluck().all(partId, actor.householdId) as string[]
}

const lacksEntry = `EXISTS (SELECT 1 FROM entries e WHERE e.vehicle_id = t.id AND e.correction IS NOT 'withdrawn'
  AND NOT EXISTS (SELECT 1 FROM entries c WHERE c.corrects_id = e.id AND c.correction = 'replaced')
  AND NOT EXISTS (SELECT 1 FROM search_rows r WHERE r.household_id = e.household_id AND r.kind = 'entry' AND r.ref_id = e.id))`
const lacksPart = `NOT EXISTS (SELECT 1 FROM search_rows r WHERE r.household_id = t.household_id AND r.kind = 'part' AND r.ref_id = t.id)`

function lacking(db: Db, table: 'vehicles' | 'parts', lacks: string): readonly { readonly id: string; readonly householdId: string }[] {
  const sql = `SELECT t.id AS id, t.household_id AS householdId FROM ${table} t WHERE ${lacks} ORDER BY t.id`
  return db.$client.prepare(sql).all() as { id: string; householdId: string }[]
}

/** The installation itself, asking on behalf of a household. */
function nobodyOf(householdId: string): Actor {
  return { householdId, personId: '', name: '' }
}

function countOf(db: Db): number {
  return Number(db.$client.prepare('SELECT count(*) FROM search_rows').pluck().get())
}
