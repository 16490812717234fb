/** Past 200 lines: one walk over all that a household keeps. Everything of it, or of one vehicle, as one zip that any program opens: the way out. */
import { createHash } from 'node:crypto'
import { closeSync, createReadStream, createWriteStream, openSync, rmSync, writeSync } from 'node:fs'
import { lstat, mkdir, mkdtemp, open, rename, rm } from 'node:fs/promises'
import { dirname, join } from 'node:path'
import type { Readable } from 'node:stream'
import { pipeline } from 'node:stream/promises'
import { stringify } from 'csv-stringify/sync'
import { readmeOf } from './archive-readme.ts'
import { type ArchiveTable, archiveTables, FORMAT, fileOf, lineOf, type Row } from './archive-tables.ts'
import { ArchiveZip } from './archive-zip.ts'
import type { Clock } from './clock.ts'
import type { Actor } from './contract.ts'
import type { Db } from './database.ts'
import { documentOn } from './document-of.ts'
import { photoName, photoPath } from './photo-path.ts'
import { photoWeight } from './photo-weight.ts'

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
  /** originals that were not on the disk, or no longer what they had been */
  readonly missing: readonly string[]
}

export type Held = {
  readonly vehicles: number
  readonly entries: number
  readonly parts: number
  readonly photos: number
  readonly photos_bytes: number
}

/** How much a whole archive would hold. */
export function heldBy(db: Db, actor: Actor): Held {
  const count = (table: string) =>
    Number(db.$client.prepare(`SELECT count(*) FROM ${table} WHERE household_id = ?`).pluck().get(actor.householdId))
  const { photos, originals_bytes } = photoWeight(db, actor.householdId)
  return { vehicles: count('vehicles'), entries: count('entries'), parts: count('parts'), photos, photos_bytes: originals_bytes }
}

const NOBODY = 'A former owner'
/** What a vehicle's own archive holds; the rest is the household's. */
const OF_A_VEHICLE = ['vehicles', 'parts', 'part_revisions', 'entries', 'changes', 'photos', 'photo_marks']

/**
 * The archive as it is made, from its first byte on. Rows are read within one transaction into files of their own, so that whoever takes it
 * slowly holds nothing up; the manifest comes last, when every original has been looked at. A stream that is destroyed ends all of it.
 */
export async function archiveStream(
  db: Db,
  clock: Clock,
  actor: Actor,
  given: ArchiveScope & { readonly data: string },
): Promise<{ readonly stream: Readable; readonly manifest: Promise<Manifest> }> {
  const { data } = given
  await mkdir(join(data, 'tmp'), { recursive: true, mode: 0o700 })
  const folder = await mkdtemp(join(data, 'tmp', 'archive-'))
  const clean = () => rmSync(folder, { recursive: true, force: true })
  try {
    const { files, photos } = db.$client.transaction(() => writeRecords(db, actor, { ...given, folder }))()
    const head = {
      format: FORMAT,
      madeAt: clock.now().toISOString(),
      schemaVersion: Number(db.$client.pragma('user_version', { simple: true })),
      scope: given.vehicleId === undefined ? ('household' as const) : ('vehicle' as const),
    }
    const zip = new ArchiveZip(clean)
    const manifest = fill(zip, { head, files, photos, data, folder })
    // Whoever waits for the manifest hears of it; whoever reads the stream sees it destroyed.
    manifest.catch((fault) => zip.stream.destroy(fault))
    return { stream: zip.stream, manifest }
  } catch (fault) {
    clean()
    throw fault
  }
}

/** Writes the archive to `to`, whole or not at all. */
export async function writeArchive(
  db: Db,
  clock: Clock,
  actor: Actor,
  given: ArchiveScope & { readonly data: string; readonly to: string; readonly signal?: AbortSignal },
): Promise<Manifest> {
  const { to, signal } = given
  await mkdir(dirname(to), { recursive: true })
  const { stream, manifest } = await archiveStream(db, clock, actor, given)
  const part = `${to}.part`
  try {
    await pipeline(stream, createWriteStream(part, { mode: 0o600 }), { signal })
    const handle = await open(part, 'r+')
    await handle.sync().finally(() => handle.close())
    await rename(part, to)
    return await manifest
  } catch (fault) {
    await rm(part, { force: true })
    throw fault
  }
}

async function fill(
  zip: ArchiveZip,
  given: {
    readonly head: Omit<Manifest, 'files' | 'missing'>
    readonly files: Readonly<Record<string, ManifestFile>>
    readonly photos: readonly Photo[]
    readonly data: string
    readonly folder: string
  },
): Promise<Manifest> {
  const { head, photos, data, folder } = given
  const files: Record<string, ManifestFile> = {}
  const missing = new Set<string>()
  for (const name of Object.keys(given.files).sort()) {
    const file = given.files[name] as ManifestFile
    files[name] = file
    zip.add(name, { path: join(folder, placeOf(name)), bytes: file.bytes, compress: true })
  }
  for (const photo of [...photos].sort((a, b) => (a.sha256 < b.sha256 ? -1 : 1))) {
    const name = photoName(photo)
    if (Object.hasOwn(files, name) || missing.has(name)) continue
    const path = photoPath({ data, ...photo })
    const bytes = await bytesIfWhole(path, photo.sha256, zip.stream)
    if (bytes === null) missing.add(name)
    else {
      files[name] = { bytes, sha256: photo.sha256 }
      // Pictures are packed already.
      zip.add(name, { path, bytes, compress: false })
    }
  }
  const manifest = { ...head, files, missing: [...missing] }
  zip.end(manifest)
  return manifest
}

/** Its size, or null where it is gone, is no plain file, or is no longer what its name says. */
async function bytesIfWhole(path: string, sha256: string, stream: Readable): Promise<number | null> {
  const found = await lstat(path).catch(() => null)
  if (!found?.isFile()) return null
  const hash = createHash('sha256')
  for await (const chunk of createReadStream(path)) {
    if (stream.destroyed) throw new Error('Nobody takes this archive any more.')
    hash.update(chunk as Buffer)
  }
  return hash.digest('hex') === sha256 ? found.size : null
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
    const path = join(folder, placeOf(name))
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
        put(`${lineOf(table, shownRow(table, row, { people, given, parts }))}\n`)
        rows++
      }
      return rows
    })
  }
  const vehicles =
    vehicleId === undefined ? [...rowsOf(db, actor, archiveTables[0] as ArchiveTable)].map((row) => String(row.id)) : [vehicleId]
  for (const id of vehicles)
    keep(`vehicles/${id}/document.json`, (put) => void put(`${JSON.stringify(documentOn(db, actor, id), null, 1)}\n`))
  for (const [name, lines] of Object.entries(sheets(db, actor, { ...given, parts }))) keep(name, (put) => void put(lines))
  const held = archiveTables.map((table) => table.name).filter((name) => vehicleId === undefined || OF_A_VEHICLE.includes(name))
  keep('README.txt', (put) => void put(readmeOf(vehicleId === undefined ? 'household' : 'vehicle', held)))
  return { files, photos }
}

/** Where a file of the archive waits in the temporary folder. */
function placeOf(name: string): string {
  return name.replaceAll('/', '_')
}

/** Rows of one table in their order, JSON columns parsed. */
export function* rowsOf(db: Db, actor: Actor, table: ArchiveTable): Generator<Row> {
  const sql = `SELECT * FROM ${table.name} WHERE household_id = ? ORDER BY ${table.byRecording ? 'rowid' : table.key.join(', ')}`
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
  how: { readonly people: ReadonlyMap<string, string>; readonly given: ArchiveScope; readonly parts?: ReadonlySet<string> | null },
): Row {
  const isHandedOver = how.given.vehicleId !== undefined
  const own: Record<string, unknown> = { ...row }
  if ('recorded_by' in own)
    own.recorded_by = isHandedOver && how.given.names !== true ? NOBODY : (how.people.get(String(own.recorded_by)) ?? NOBODY)
  if (isHandedOver && table.name === 'entries' && how.given.costs !== true) own.cost_minor = null
  if (isHandedOver && 'once_key' in own) own.once_key = null
  // A photo of the vehicle may be one of a part that the vehicle never held.
  if (isHandedOver && table.name === 'photos' && own.part_id !== null && !how.parts?.has(String(own.part_id))) own.part_id = null
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
function sheets(db: Db, actor: Actor, given: ArchiveScope & { readonly parts: ReadonlySet<string> | null }): Record<string, string> {
  const { vehicleId } = given
  const [also, args] = vehicleId === undefined ? ['', [actor.householdId]] : [' AND e.vehicle_id = ?', [actor.householdId, vehicleId]]
  const cost = vehicleId === undefined || given.costs === true ? 'e.cost_minor' : 'NULL'
  const entries = db.$client
    .prepare(
      `SELECT v.name AS vehicle, e.effective_on AS day, e.title, e.text, e.odometer_km, ${cost} AS cost_minor FROM entries e JOIN vehicles v ON v.id = e.vehicle_id
       WHERE e.household_id = ?${also} AND e.correction IS NOT 'withdrawn' AND NOT EXISTS (SELECT 1 FROM entries c WHERE c.corrects_id = e.id AND (c.correction = 'replaced'
         OR NOT EXISTS (SELECT 1 FROM entries b WHERE b.corrects_id = c.id AND b.correction = 'withdrawn')))
       ORDER BY e.effective_on, e.place_id`,
    )
    .all(...args) as Row[]
  const parts = db.$client
    .prepare(
      `SELECT p.id, r.name, p.kind, r.ratings, r.notes FROM parts p JOIN part_revisions r ON r.id = (SELECT id FROM part_revisions WHERE part_id = p.id ORDER BY rowid DESC LIMIT 1)
       WHERE p.household_id = ? ORDER BY p.id`,
    )
    .all(actor.householdId) as Row[]
  const held = parts.filter((part) => given.parts === null || given.parts.has(String(part.id)))
  const found: Record<string, string> = {
    'csv/entries.csv': sheet(['vehicle', 'day', 'title', 'text', 'odometer_km', 'cost_minor'], entries),
    'csv/parts.csv': sheet(['name', 'kind', 'ratings', 'notes'], held),
  }
  if (vehicleId !== undefined) return found
  const purchases = db.$client
    .prepare(
      `SELECT r.name AS part, b.bought_on AS day, b.count, b.price_minor, b.supplier FROM purchases b JOIN part_revisions r
       ON r.id = (SELECT id FROM part_revisions WHERE part_id = b.part_id ORDER BY rowid DESC LIMIT 1) WHERE b.household_id = ? ORDER BY b.id`,
    )
    .all(actor.householdId) as Row[]
  return {
    ...found,
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
