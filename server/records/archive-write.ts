/** Past 200 lines: one walk over all that a household keeps. Everything of it, or of one vehicle, as one zip that any program opens: the way out. */
import { createHash } from 'node:crypto'
import { closeSync, createWriteStream, fsyncSync, openSync, writeSync } from 'node:fs'
import { lstat, mkdir, mkdtemp, rename, rm } from 'node:fs/promises'
import { dirname, join } from 'node:path'
import { pipeline } from 'node:stream/promises'
import { stringify } from 'csv-stringify/sync'
import yazl from 'yazl'
import { type ArchiveTable, archiveTables, FORMAT, fileOf, lineOf, type Row } from './archive-tables.ts'
import type { Clock } from './clock.ts'
import type { Actor } from './contract.ts'
import type { Db } from './database.ts'
import { documentOn } from './document-of.ts'
import { photoName, photoPath } from './photo-path.ts'

export type ArchiveScope = {
  /** one vehicle alone: nothing of other vehicles, of the shelf's counts, prices and suppliers */
  readonly vehicleId?: string | undefined
  /** for one vehicle: what its entries cost, and who wrote them; both left out unless asked for */
  readonly costs?: boolean
  readonly names?: boolean
}
export type ManifestFile = { readonly bytes: number; readonly sha256: string; readonly rows?: number }
export type Manifest = {
  readonly format: string
  readonly madeAt: string
  readonly schemaVersion: number
  readonly scope: 'household' | 'vehicle'
  readonly files: Readonly<Record<string, ManifestFile>>
}

const NOBODY = 'A former owner'
/** What a vehicle's own archive holds; the rest is the household's. */
const OF_A_VEHICLE = ['vehicles', 'parts', 'part_revisions', 'entries', 'changes', 'photos', 'photo_marks']

/**
 * Writes the archive to `to`, whole or not at all. Rows are read within one transaction; photos are copied in as they are. A photo whose
 * original is missing is named in the manifest's absence: its row is there, its file is not.
 */
export async function writeArchive(
  db: Db,
  clock: Clock,
  actor: Actor,
  given: ArchiveScope & { readonly data: string; readonly to: string },
): Promise<Manifest> {
  const { data, to } = given
  await mkdir(join(data, 'tmp'), { recursive: true, mode: 0o700 })
  const folder = await mkdtemp(join(data, 'tmp', 'archive-'))
  try {
    const { files, photos } = db.$client.transaction(() => writeRecords(db, actor, { ...given, folder }))()
    const names = new Map(Object.keys(files).map((name) => [name, join(folder, name.replaceAll('/', '_'))]))
    const all: Record<string, ManifestFile> = { ...files }
    for (const photo of photos) {
      const path = photoPath({ data, ...photo })
      const found = await lstat(path).catch(() => null)
      if (!found?.isFile()) continue
      names.set(photoName(photo), path)
      all[photoName(photo)] = { bytes: found.size, sha256: photo.sha256 }
    }
    const manifest: Manifest = {
      format: FORMAT,
      madeAt: clock.now().toISOString(),
      schemaVersion: Number(db.$client.pragma('user_version', { simple: true })),
      scope: given.vehicleId === undefined ? 'household' : 'vehicle',
      files: Object.fromEntries(Object.entries(all).sort(([a], [b]) => (a < b ? -1 : 1))),
    }
    await zip({ manifest, names, to })
    return manifest
  } finally {
    await rm(folder, { recursive: true, force: true })
  }
}

async function zip(given: {
  readonly manifest: Manifest
  readonly names: ReadonlyMap<string, string>
  readonly to: string
}): Promise<void> {
  const { manifest, names, to } = given
  await mkdir(dirname(to), { recursive: true })
  const file = new yazl.ZipFile()
  // Always the same moment: two archives of the same records differ in the manifest alone.
  const mtime = new Date('2000-01-01T00:00:00Z')
  file.addBuffer(Buffer.from(`${JSON.stringify(manifest, null, 1)}\n`), 'manifest.json', { mtime })
  for (const name of Object.keys(manifest.files)) {
    // Photos are packed already.
    const compress = !name.startsWith('photos/')
    file.addFile(names.get(name) as string, name, { mtime, mode: 0o100600, compress })
  }
  file.end()
  const part = `${to}.part`
  try {
    await pipeline(file.outputStream, createWriteStream(part, { mode: 0o600 }))
    const handle = openSync(part, 'r+')
    fsyncSync(handle)
    closeSync(handle)
    await rename(part, to)
  } catch (fault) {
    await rm(part, { force: true })
    throw fault
  }
}

type Photo = { readonly sha256: string; readonly type: string }

function writeRecords(
  db: Db,
  actor: Actor,
  given: ArchiveScope & { readonly folder: string },
): { files: Record<string, ManifestFile>; photos: Photo[] } {
  const { folder, vehicleId } = given
  const files: Record<string, ManifestFile> = {}
  const photos: Photo[] = []
  const people = namesOfPeople(db, actor)
  const keep = (name: string, write: (put: (text: string) => void) => number | undefined) => {
    const path = join(folder, name.replaceAll('/', '_'))
    const handle = openSync(path, 'w', 0o600)
    const hash = createHash('sha256')
    let bytes = 0
    try {
      const rows = write((text) => {
        const chunk = Buffer.from(text)
        hash.update(chunk)
        bytes += chunk.length
        writeSync(handle, chunk)
      })
      files[name] = { bytes, sha256: hash.digest('hex'), ...(rows === undefined ? {} : { rows }) }
    } finally {
      closeSync(handle)
    }
  }
  const parts = vehicleId === undefined ? null : partsEverIn(db, actor, vehicleId)
  for (const table of archiveTables) {
    if (vehicleId !== undefined && !OF_A_VEHICLE.includes(table.name)) continue
    keep(fileOf(table.name), (put) => {
      let rows = 0
      for (const row of rowsOf(db, actor, table)) {
        if (!isWithin(table, row, { vehicleId, parts })) continue
        if (table.name === 'photos') photos.push({ sha256: String(row.sha256), type: String(row.type) })
        put(`${lineOf(table, shownRow(table, row, { people, given }))}\n`)
        rows++
      }
      return rows
    })
  }
  const vehicles =
    vehicleId === undefined ? [...rowsOf(db, actor, archiveTables[0] as ArchiveTable)].map((row) => String(row.id)) : [vehicleId]
  for (const id of vehicles)
    keep(`vehicles/${id}/document.json`, (put) => void put(`${JSON.stringify(documentOn(db, actor, id), null, 1)}\n`))
  for (const [name, lines] of Object.entries(sheets(db, actor, given))) keep(name, (put) => void put(lines))
  keep('README.txt', (put) => void put(README))
  return { files, photos }
}

/** Rows of one table in order of their key, JSON columns parsed. */
export function* rowsOf(db: Db, actor: Actor, table: ArchiveTable): Generator<Row> {
  const sql = `SELECT * FROM ${table.name} WHERE household_id = ? ORDER BY ${table.key.join(', ')}`
  for (const row of db.$client.prepare(sql).iterate(actor.householdId)) yield parsed(table, row as Row)
}

export function parsed(table: ArchiveTable, row: Row): Row {
  const { household_id: _household, ...rest } = row
  const own: Record<string, unknown> = { ...rest }
  for (const name of table.json) own[name] = own[name] === null ? null : JSON.parse(String(own[name]))
  return own
}

/** Names in place of ids of people; of a vehicle handed over, no costs and no names unless they were asked for. */
export function shownRow(
  table: ArchiveTable,
  row: Row,
  how: { readonly people: ReadonlyMap<string, string>; readonly given: ArchiveScope },
): Row {
  const isHandedOver = how.given.vehicleId !== undefined
  const own: Record<string, unknown> = { ...row }
  if ('recorded_by' in own)
    own.recorded_by = isHandedOver && how.given.names !== true ? NOBODY : (how.people.get(String(own.recorded_by)) ?? NOBODY)
  if (isHandedOver && table.name === 'entries' && how.given.costs !== true) own.cost_minor = null
  if (isHandedOver && 'once_key' in own) own.once_key = null
  return own
}

export function namesOfPeople(db: Db, actor: Actor): ReadonlyMap<string, string> {
  const rows = db.$client.prepare('SELECT id, name FROM people WHERE household_id = ?').all(actor.householdId) as {
    id: string
    name: string
  }[]
  return new Map(rows.map((row) => [row.id, row.name]))
}

function isWithin(
  table: ArchiveTable,
  row: Row,
  within: { readonly vehicleId: string | undefined; readonly parts: ReadonlySet<string> | null },
): boolean {
  const { vehicleId, parts } = within
  if (vehicleId === undefined || parts === null) return true
  if (table.name === 'vehicles') return row.id === vehicleId
  if (table.name === 'parts') return parts.has(String(row.id))
  if (table.name === 'part_revisions') return parts.has(String(row.part_id))
  if (table.name === 'photo_marks') return parts.has(`photo ${row.photo_id}`)
  if (table.name === 'photos') return row.vehicle_id === vehicleId && row.trashed_at === null
  return row.vehicle_id === vehicleId
}

/** Every part that the vehicle ever held or that its journal names; and its photos, for their marks. */
function partsEverIn(db: Db, actor: Actor, vehicleId: string): ReadonlySet<string> {
  const found = new Set<string>()
  const known = new Set(db.$client.prepare('SELECT id FROM parts WHERE household_id = ?').pluck().all(actor.householdId) as string[])
  const payloads = db.$client.prepare('SELECT payload FROM changes WHERE household_id = ? AND vehicle_id = ?').pluck()
  const look = (value: unknown): void => {
    if (typeof value === 'string') {
      if (known.has(value)) found.add(value)
    } else if (typeof value === 'object' && value !== null) for (const inner of Object.values(value)) look(inner)
  }
  for (const payload of payloads.iterate(actor.householdId, vehicleId)) look(JSON.parse(String(payload)))
  const photos = 'SELECT id FROM photos WHERE household_id = ? AND vehicle_id = ? AND trashed_at IS NULL'
  for (const photo of db.$client.prepare(photos).pluck().iterate(actor.householdId, vehicleId)) found.add(`photo ${photo}`)
  return found
}

/** Tables for a spreadsheet; never read back. */
function sheets(db: Db, actor: Actor, given: ArchiveScope): Record<string, string> {
  const { vehicleId } = given
  const [also, args] = vehicleId === undefined ? ['', [actor.householdId]] : [' AND e.vehicle_id = ?', [actor.householdId, vehicleId]]
  const cost = vehicleId === undefined || given.costs === true ? 'e.cost_minor' : 'NULL'
  const entries = db.$client
    .prepare(
      `SELECT v.name AS vehicle, e.effective_on AS day, e.title, e.text, e.odometer_km, ${cost} AS cost_minor FROM entries e JOIN vehicles v ON v.id = e.vehicle_id
       WHERE e.household_id = ?${also} AND e.correction IS NOT 'withdrawn' AND NOT EXISTS (SELECT 1 FROM entries c WHERE c.corrects_id = e.id)
       ORDER BY e.effective_on, e.place_id`,
    )
    .all(...args) as Row[]
  const found: Record<string, string> = {
    'csv/entries.csv': sheet(['vehicle', 'day', 'title', 'text', 'odometer_km', 'cost_minor'], entries),
  }
  if (vehicleId !== undefined) return found
  const parts = db.$client
    .prepare(
      `SELECT r.name, p.kind, r.ratings, r.notes FROM parts p JOIN part_revisions r ON r.id = (SELECT max(id) FROM part_revisions WHERE part_id = p.id)
       WHERE p.household_id = ? ORDER BY p.id`,
    )
    .all(actor.householdId) as Row[]
  const purchases = db.$client
    .prepare(
      `SELECT r.name AS part, b.bought_on AS day, b.count, b.price_minor, b.supplier FROM purchases b JOIN part_revisions r
       ON r.id = (SELECT max(id) FROM part_revisions WHERE part_id = b.part_id) WHERE b.household_id = ? ORDER BY b.id`,
    )
    .all(actor.householdId) as Row[]
  return {
    ...found,
    'csv/parts.csv': sheet(['name', 'kind', 'ratings', 'notes'], parts),
    'csv/purchases.csv': sheet(['part', 'day', 'count', 'price_minor', 'supplier'], purchases),
  }
}

/** RFC 4180. Words that a spreadsheet would take for a formula are marked as words; numbers stay numbers. */
export function sheet(columns: readonly string[], rows: readonly Row[]): string {
  const cells = rows.map((row) => columns.map((name) => (typeof row[name] === 'string' ? plainWords(row[name]) : (row[name] ?? ''))))
  return stringify([columns, ...cells], { record_delimiter: 'windows', quoted_string: true })
}

function plainWords(text: string): string {
  return /^[\s"']*[=+\-@＝＋－＠]|^[\t\r]/.test(text) ? `'${text}` : text
}

const README = `A Loombook archive: everything a household recorded, in plain files.

manifest.json          what is here: for each file its bytes, its SHA-256 and its rows
records/<table>.jsonl  one record a line, as JSON: the journal (entries, changes), parts and what is known of them
                       (part_revisions), the shelf (stock_counts, stock_moves, purchases, leftovers), photos and marks on them
vehicles/<id>/         today's vehicle document: components, parts with ratings, joins
photos/                originals, byte for byte, named by their SHA-256
csv/                   tables for a spreadsheet; a cell that looks like a formula has an apostrophe before it

Days are YYYY-MM-DD, instants UTC (ISO 8601), money in minor units (cents), lengths in metres, distances in kilometres.
An entry with "corrects_id" takes the place of that entry (correction "replaced") or takes it back ("withdrawn"); entries are never changed.
A vehicle's state on a day is its changes up to that day, one after another, in the order (effective_on, place_id, position).
Lines are written as ECMAScript's JSON.stringify writes them, keys in the order of the table, and sorted by id.
`
