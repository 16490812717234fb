/**
 * Past 200 lines: taking an archive in is one act. Into an empty or a full household, all of it or nothing: what is here already and the
 * same is left; where a record of the same id differs, the whole archive comes in under new ids, beside what is here.
 */
import { randomBytes } from 'node:crypto'
import { createReadStream, existsSync } from 'node:fs'
import { copyFile, open, rm, unlink } from 'node:fs/promises'
import { join } from 'node:path'
import { type Limits, type OpenedArchive, openArchive } from './archive-read.ts'
import { type ArchiveTable, archiveTables, fileOf, lineOf, type Row } from './archive-tables.ts'
import { namesOfPeople, parsed, shownRow } from './archive-write.ts'
import { changeKind } from './changes/index.ts'
import type { Clock } from './clock.ts'
import type { Actor, Refusal, Result } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { kindsOfParts, liveEntries, vehicleRow } from './entry-rows.ts'
import { newId } from './ids.ts'
import { faultsOfPart } from './parts.ts'
import { type Disk, keepOriginal, disk as realDisk } from './photo-files.ts'
import { kindOfBytes } from './photo-kinds.ts'
import { photoName, photoPath } from './photo-path.ts'
import { done, refusal, refused } from './refusals.ts'
import { people } from './schema.ts'
import { emptyState, fold } from './state.ts'

export type Imported = {
  readonly added: Readonly<Record<string, number>>
  /** records that were here already, the same */
  readonly same: number
  /** the archive came in under new ids, since some record of it differs from the one here */
  readonly asCopy: boolean
  readonly photos: number
  /** originals that the archive does not hold */
  readonly missingPhotos: number
}

const LONGEST_line = 20_000_000
type Tables = ReadonlyMap<ArchiveTable, readonly Row[]>

export async function importArchive(
  db: Db,
  clock: Clock,
  actor: Actor,
  given: { readonly data: string; readonly path: string; readonly limits?: Limits; readonly disk?: Disk },
): Promise<Result<Imported>> {
  const folder = join(given.data, 'tmp', `import-${randomBytes(8).toString('hex')}`)
  const kept: string[] = []
  try {
    const opened = await openArchive(given.path, folder, given.limits)
    if (!opened.ok) return opened
    const tables = await readTables(opened.value)
    if (!tables.ok) return tables
    const photos = await keepPhotos(opened.value, tables.value, { ...given, kept })
    if (!photos.ok) {
      await forget(kept)
      return photos
    }
    const stored = store(db, clock, actor, tables.value)
    if (!stored.ok) await forget(kept)
    return stored.ok ? done({ ...stored.value, ...photos.value }) : stored
  } catch (fault) {
    await forget(kept)
    throw fault
  } finally {
    await rm(folder, { recursive: true, force: true })
  }
}

/** Reads every line and judges it by its table; the first that is not right is named with its file and number. */
async function readTables(archive: OpenedArchive): Promise<Result<Tables>> {
  const found = new Map<ArchiveTable, readonly Row[]>()
  for (const table of archiveTables) {
    const name = fileOf(table.name)
    const said = archive.manifest.files[name]
    if (!said) {
      found.set(table, [])
      continue
    }
    const rows: Row[] = []
    let number = 0
    for await (const line of linesOf(archive.pathOf(name))) {
      number++
      const row = line === null ? null : rowOf(table, line)
      if (row === null || typeof row === 'string')
        return refused([
          refusal('archive-not-taken', `${name}, line ${number}: ${row ?? 'this is not UTF-8 text, or too long'}. Nothing was taken in.`),
        ])
      rows.push(row)
    }
    if (rows.length !== (said.rows ?? rows.length))
      return refused([
        refusal('archive-not-taken', `${name} has ${rows.length} records; the manifest says ${said.rows}. Nothing was taken in.`),
      ])
    found.set(table, rows)
  }
  return done(found)
}

/** Null for a line that is too long or no UTF-8. */
async function* linesOf(path: string): AsyncGenerator<string | null> {
  const decoder = new TextDecoder('utf-8', { fatal: true })
  let rest: Buffer[] = []
  let length = 0
  const text = (pieces: readonly Buffer[]): string | null => {
    try {
      return decoder.decode(Buffer.concat(pieces))
    } catch {
      return null
    }
  }
  for await (const chunk of createReadStream(path) as AsyncIterable<Buffer>) {
    let from = 0
    for (let at = chunk.indexOf(10); at >= 0; at = chunk.indexOf(10, from)) {
      yield text([...rest, chunk.subarray(from, at)])
      rest = []
      length = 0
      from = at + 1
    }
    rest.push(chunk.subarray(from))
    length += chunk.length - from
    if (length > LONGEST_line) {
      yield null
      return
    }
  }
  if (length > 0) yield text(rest)
}

/**
 * The record of a line, or what is wrong with it. A line has to be written as JSON.stringify writes it: then a number that does not fit, a
 * key given twice, and whatever else reads differently here and elsewhere is seen, since it comes out otherwise than it went in.
 */
function rowOf(table: ArchiveTable, line: string): Row | string {
  let value: unknown
  try {
    value = JSON.parse(line)
    if (JSON.stringify(value) !== line) return 'a number, a key or a character in it cannot be kept exactly'
  } catch {
    return 'this is not JSON, or nested too deep'
  }
  const read = table.row.safeParse(value)
  if (read.success) return faultOf(table, read.data) ?? read.data
  const issue = read.error.issues[0]
  return `${issue?.path.join('.') || 'the record'}: ${issue?.message ?? 'not right'}`
}

function faultOf(table: ArchiveTable, row: Row): string | null {
  if (table.name !== 'changes') return null
  const kind = changeKind(String(row.kind))
  if (!kind) return `there is no kind of change called “${String(row.kind).slice(0, 40)}”`
  const read = kind.payload.safeParse(row.payload)
  return read.success ? null : `payload: ${read.error.issues[0]?.path.join('.')} ${read.error.issues[0]?.message}`
}

/** Originals first, by the same way as those that are sent: a row never names what is not there. */
async function keepPhotos(
  archive: OpenedArchive,
  tables: Tables,
  given: { readonly data: string; readonly kept: string[]; readonly disk?: Disk },
): Promise<Result<{ photos: number; missingPhotos: number }>> {
  let missing = 0
  const seen = new Set<string>()
  for (const row of rowsNamed(tables, 'photos')) {
    const [sha256, type] = [String(row.sha256), String(row.type)]
    const name = photoName({ sha256, type })
    if (seen.has(name)) continue
    seen.add(name)
    const said = archive.manifest.files[name]
    if (!said) {
      missing++
      continue
    }
    if (said.sha256 !== sha256) return refused([refusal('archive-not-taken', `${name} is not the photo that its record says.`)])
    const path = archive.pathOf(name)
    if (kindOfBytes(await headOf(path)) !== type)
      return refused([refusal('archive-not-taken', `${name} is not of the kind that its record says.`)])
    const to = photoPath({ data: given.data, sha256, type })
    if (existsSync(to)) continue
    // A copy, since the one unpacked goes with its folder.
    const part = join(given.data, 'tmp', randomBytes(16).toString('hex'))
    await copyFile(path, part)
    given.kept.push(to)
    await keepOriginal(
      { data: given.data, received: { path: part, sha256, bytes: said.bytes, fileName: '' }, type },
      given.disk ?? realDisk,
    )
  }
  for (const name of Object.keys(archive.manifest.files))
    if (name.startsWith('photos/') && !seen.has(name))
      return refused([refusal('archive-not-taken', `${name} is a photo that no record names.`)])
  return done({ photos: seen.size - missing, missingPhotos: missing })
}

function store(db: Db, clock: Clock, actor: Actor, tables: Tables): Result<Pick<Imported, 'added' | 'same' | 'asCopy'>> {
  return inTransaction(db, () => {
    const state = compareWithHere(db, actor, tables)
    const ids = state.differs ? newIds(tables, clock) : null
    const authors = authorsOf(db, clock, actor, tables)
    const added: Record<string, number> = {}
    let same = 0
    const vehicles = new Set<string>()
    for (const [table, rows] of tables) {
      const insert = inserter(db, table)
      for (const row of rows) {
        if (!state.differs && state.here.has(keyOf(table, row))) {
          same++
          continue
        }
        if (table.name === 'settings' && isSet(db, actor, String(row.name))) continue
        const own = ids ? renamed(table, row, ids) : row
        try {
          insert(actor, { ...own, ...('recorded_by' in own ? { recorded_by: authors.get(String(own.recorded_by)) } : {}) })
        } catch (fault) {
          // What points to nothing, or stands twice: the database says no, and all of it is undone.
          if ((fault as { code?: string }).code?.startsWith('SQLITE_CONSTRAINT'))
            return refused([
              refusal(
                'archive-not-taken',
                `${fileOf(table.name)}: a record points to one that is not in the archive, or stands twice. Nothing was taken in.`,
              ),
            ])
          throw fault
        }
        added[table.name] = (added[table.name] ?? 0) + 1
        if (table.name === 'vehicles') vehicles.add(String(own.id))
        if (typeof own.vehicle_id === 'string') vehicles.add(own.vehicle_id)
      }
    }
    const faults = [...faultsOfParts(db, actor, tables, ids), ...[...vehicles].flatMap((id) => faultsOfJournal(db, actor, id))]
    if (faults.length > 0) return refused(faults.slice(0, 5))
    afterImport(db, actor)
    return done({ added, same, asCopy: state.differs })
  })
}

/** What is derived from records, made for those that came in. */
function afterImport(_db: Db, _actor: Actor): void {}

/** Which records of the archive are here, the same; and whether any is here and differs. */
function compareWithHere(db: Db, actor: Actor, tables: Tables): { readonly here: ReadonlySet<string>; readonly differs: boolean } {
  const here = new Set<string>()
  const names = namesOfPeople(db, actor)
  for (const [table, rows] of tables) {
    if (table.name === 'settings') continue
    const find = db.$client.prepare(`SELECT * FROM ${table.name} WHERE id = ?`)
    for (const row of rows) {
      const found = find.get(row.id) as Row | undefined
      if (!found) continue
      if (found.household_id !== actor.householdId) return { here, differs: true }
      const present = lineOf(table, shownRow(table, parsed(table, found), { people: names, given: {} }))
      if (present !== lineOf(table, row)) return { here, differs: true }
      here.add(keyOf(table, row))
    }
  }
  return { here, differs: false }
}

/** In the order of the old ones, so that what came later still sorts later. */
function newIds(tables: Tables, clock: Clock): ReadonlyMap<string, string> {
  const old = [...tables].flatMap(([table, rows]) => (table.name === 'settings' ? [] : rows.map((row) => String(row.id)))).sort()
  return new Map([...new Set(old)].map((id) => [id, newId(clock)]))
}

function renamed(table: ArchiveTable, row: Row, ids: ReadonlyMap<string, string>): Row {
  const anew = (value: unknown): unknown => {
    if (typeof value === 'string') return ids.get(value) ?? value
    if (Array.isArray(value)) return value.map(anew)
    if (typeof value === 'object' && value !== null)
      return Object.fromEntries(Object.entries(value).map(([name, inner]) => [name, anew(inner)]))
    return value
  }
  const own = anew(row) as Record<string, unknown>
  if ('once_key' in own) own.once_key = null
  return table.name === 'settings' ? row : own
}

/** By name; somebody who is not known here becomes a person that nobody can sign in as. */
function authorsOf(db: Db, clock: Clock, actor: Actor, tables: Tables): ReadonlyMap<string, string> {
  const known = new Map([...namesOfPeople(db, actor)].map(([id, name]) => [name, id]))
  const wanted = new Set(
    [...tables.values()].flatMap((rows) => rows.flatMap((row) => (typeof row.recorded_by === 'string' ? [row.recorded_by] : []))),
  )
  for (const name of wanted) {
    if (known.has(name)) continue
    const id = newId(clock)
    const at = clock.now().toISOString()
    db.insert(people)
      // The name as it is folded is one of all households: this one is folded apart, and cannot be typed.
      .values({
        id,
        householdId: actor.householdId,
        name,
        nameFolded: `\u0001${id}`,
        passwordHash: 'scrypt$none',
        role: 'viewer',
        disabledAt: at,
        recordedAt: at,
      })
      .run()
    known.set(name, id)
  }
  return known
}

function inserter(db: Db, table: ArchiveTable): (actor: Actor, row: Row) => void {
  const columns = (db.$client.pragma(`table_info(${table.name})`) as { name: string }[]).map((column) => column.name)
  const statement = db.$client.prepare(`INSERT INTO ${table.name} (${columns.join(', ')}) VALUES (${columns.map(() => '?').join(', ')})`)
  return (actor, row) => {
    const values = columns.map((name) => {
      if (name === 'household_id') return actor.householdId
      const value = row[name] ?? null
      return table.json.includes(name) && value !== null ? JSON.stringify(value) : value
    })
    statement.run(...(values as (string | number | null)[]))
  }
}

function faultsOfParts(db: Db, actor: Actor, tables: Tables, ids: ReadonlyMap<string, string> | null): readonly Refusal[] {
  const kinds = kindsOfParts(db, actor)
  for (const row of rowsNamed(tables, 'part_revisions')) {
    const part = ids?.get(String(row.part_id)) ?? String(row.part_id)
    const fault = faultsOfPart({
      kind: kinds(part) ?? '',
      name: String(row.name),
      ratings: row.ratings as never,
      evidence: row.evidence as never,
      notes: String(row.notes),
    })[0]
    if (fault) return [refusal('archive-not-taken', `${fileOf('part_revisions')}: “${String(row.name).slice(0, 60)}”: ${fault.sentence}`)]
  }
  return []
}

/** Every journal that something came into has to fold from its first entry to its last. */
function faultsOfJournal(db: Db, actor: Actor, vehicleId: string): readonly Refusal[] {
  const vehicle = vehicleRow(db, actor, vehicleId)
  if (!vehicle) return [refusal('archive-not-taken', `${fileOf('entries')}: an entry names a vehicle that is not in the archive.`)]
  const folded = fold(liveEntries(db, actor, vehicleId), undefined, { start: emptyState(vehicle), kindOfPart: kindsOfParts(db, actor) })
  if (!('conflict' in folded)) return []
  const title = liveEntries(db, actor, vehicleId).find((entry) => entry.id === folded.entryId)?.title ?? ''
  return [
    refusal(
      'archive-not-taken',
      `${fileOf('changes')}: the entry “${title.slice(0, 80)}” of ${vehicle.name} does not apply: ${folded.conflict.sentence}`,
    ),
  ]
}

function isSet(db: Db, actor: Actor, name: string): boolean {
  return db.$client.prepare('SELECT 1 FROM settings WHERE household_id = ? AND name = ?').get(actor.householdId, name) !== undefined
}

function rowsNamed(tables: Tables, name: string): readonly Row[] {
  for (const [table, rows] of tables) if (table.name === name) return rows
  return []
}

function keyOf(table: ArchiveTable, row: Row): string {
  return `${table.name} ${table.key.map((name) => row[name]).join(' ')}`
}

async function headOf(path: string): Promise<Buffer> {
  const handle = await open(path, 'r')
  try {
    const { buffer, bytesRead } = await handle.read(Buffer.alloc(256), 0, 256, 0)
    return buffer.subarray(0, bytesRead)
  } finally {
    await handle.close()
  }
}

async function forget(paths: readonly string[]): Promise<void> {
  for (const path of paths) await unlink(path).catch(() => {})
}
