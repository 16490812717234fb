/**
 * Past 200 lines: taking an archive in is one act. Into an empty or a full household, all of it or nothing: what is here already and the
 * same is left; where a record of the same id differs, the whole archive comes in under new ids, beside what is here.
 */
import { randomBytes } from 'node:crypto'
import { existsSync } from 'node:fs'
import { open, rm, unlink } from 'node:fs/promises'
import { basename, extname, join } from 'node:path'
import { checkTables, type Tables } from './archive-check.ts'
import { type NewIds, otherIds, renamed } from './archive-ids.ts'
import { rowsOfFile } from './archive-lines.ts'
import { type Limits, type OpenedArchive, openArchive } from './archive-read.ts'
import { type ArchiveTable, fileOf, lineOf, type Row } from './archive-tables.ts'
import { namesOfPeople, parsed, shownRow } from './archive-write.ts'
import { keepChangingDigest } from './changing-digests.ts'
import type { Clock } from './clock.ts'
import type { Actor, Refusal, Result } from './contract.ts'
import { type Db, inTransaction } from './database.ts'
import { keepMissingDigests } from './digests.ts'
import { forgetJournals, journalOf, kindsOfParts, vehicleRow } from './entry-rows.ts'
import { newId } from './ids.ts'
import { forgetPartNames } from './part-rows.ts'
import { type Disk, keepOriginal, disk as realDisk } from './photo-files.ts'
import { kindOfBytes } from './photo-kinds.ts'
import { photoName, photoPath } from './photo-path.ts'
import { folded } from './people.ts'
import { forgetHeads, markStale, reportOn } from './projection.ts'
import { done, refusal, refused } from './refusals.ts'
import { people } from './schema.ts'
import { keepSearchOfPart, keepSearchOfVehicle } from './search-rows.ts'
import { emptyState, fold, stateOn } from './state.ts'

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

const ATTEMPTS = 4

export async function importArchive(
  db: Db,
  clock: Clock,
  actor: Actor,
  given: {
    readonly data: string
    readonly path: string
    readonly limits?: Limits
    readonly disk?: Disk
    readonly signal?: AbortSignal
  },
): Promise<Result<Imported>> {
  const folder = join(given.data, 'tmp', `import-${randomBytes(8).toString('hex')}`)
  const { limits, signal } = given
  const kept: string[] = []
  try {
    const opened = await openArchive(given.path, folder, { limits, signal })
    if (!opened.ok) return opened
    const tables = await checkTables(opened.value, clock, signal)
    if (!tables.ok) return tables
    const photos = await keepPhotos(opened.value, tables.value, { ...given, kept })
    const stored = photos.ok ? store(db, clock, actor, { tables: tables.value, archive: opened.value }) : photos
    if (!stored.ok) await forget(db, kept)
    return stored.ok && photos.ok ? done({ ...stored.value, ...photos.value }) : (stored as Result<Imported>)
  } catch (fault) {
    await forget(db, kept)
    if (signal?.aborted) return refused([refusal('archive-not-taken', 'Taking the archive in was broken off. Nothing was taken in.')])
    throw fault
  } finally {
    await rm(folder, { recursive: true, force: true })
  }
}

/** Originals first, by the same way as those that are sent: a row never names what is not there. */
async function keepPhotos(
  archive: OpenedArchive,
  tables: Tables,
  given: { readonly data: string; readonly kept: string[]; readonly disk?: Disk; readonly signal?: AbortSignal },
): Promise<Result<{ photos: number; missingPhotos: number }>> {
  const seen = new Set<string>()
  let missing = 0
  for (const row of rowsNamed(tables, 'photos')) {
    const [sha256, type] = [String(row.sha256), String(row.type)]
    const name = photoName({ sha256, type })
    if (seen.has(name)) continue
    seen.add(name)
    given.signal?.throwIfAborted()
    const said = archive.manifest.files[name]
    if (!said) {
      missing++
      continue
    }
    const path = archive.pathOf(name)
    if (kindOfBytes(await headOf(path)) !== type)
      return refused([refusal('archive-not-taken', `${name} is not of the kind that its record says. Nothing was taken in.`)])
    const to = photoPath({ data: given.data, sha256, type })
    if (existsSync(to)) continue
    given.kept.push(to)
    await keepOriginal({ data: given.data, received: { path, sha256, bytes: said.bytes, fileName: '' }, type }, given.disk ?? realDisk)
  }
  for (const name of Object.keys(archive.manifest.files))
    if (name.startsWith('photos/') && !seen.has(name))
      return refused([refusal('archive-not-taken', `${name} is a photo that no record names. Nothing was taken in.`)])
  return done({ photos: seen.size - missing, missingPhotos: missing })
}

function store(
  db: Db,
  clock: Clock,
  actor: Actor,
  given: { readonly tables: Tables; readonly archive: OpenedArchive },
): Result<Pick<Imported, 'added' | 'same' | 'asCopy'>> {
  const { tables, archive } = given
  try {
    const stored = inTransaction(db, () => {
      // A later version may stand before the one it takes the place of: what points is looked at when all of it is in.
      db.$client.pragma('defer_foreign_keys = ON')
      const placed = placeFor(db, actor, tables)
      if (!placed) return refused([refusal('archive-not-taken', 'Records of this archive are here already and say something else.')])
      const put = putAll(db, clock, actor, { tables, placed })
      if (!put.ok) return put
      const { added, same, vehicles, parts } = put.value
      const faults = [
        ...faultsOfCorrections(db, actor),
        ...[...vehicles].flatMap((id) => faultsOfJournal(db, actor, { id, archive, placed })),
      ]
      if (faults.length > 0) return refused(faults.slice(0, 5))
      afterImport(db, actor, { vehicles, parts })
      return done({ added, same, asCopy: placed.ids !== null })
    })
    if (!stored.ok) forgetHeld(db)
    return stored
  } catch (fault) {
    forgetHeld(db)
    throw fault
  }
}

/** What is derived from records, made for those that came in. */
function afterImport(db: Db, actor: Actor, given: { readonly vehicles: ReadonlySet<string>; readonly parts: ReadonlySet<string> }): void {
  for (const id of given.parts) {
    markStale(db, actor, id)
    keepSearchOfPart(db, actor, id)
  }
  for (const id of given.vehicles) {
    // Made and told of as every head that is no longer of today.
    reportOn(db, actor, id)
    keepSearchOfVehicle(db, actor, id, stateOn(db, actor, id))
  }
  // Else the nightly check would take what came in for rows that somebody slipped in.
  keepMissingDigests(db)
}

/** What was read in a transaction that came to nothing is held nowhere: the same ids may come again and say something else. */
function forgetHeld(db: Db): void {
  forgetJournals(db)
  forgetPartNames(db)
  forgetHeads(db)
}

type Placed = {
  /** records of the archive that are here, the same, under the ids they get */
  readonly here: ReadonlySet<string>
  /** null where they keep their own */
  readonly ids: NewIds | null
}

/** Under which ids the archive fits in: its own, or else others. */
function placeFor(db: Db, actor: Actor, tables: Tables): Placed | null {
  for (let attempt = 0; attempt < ATTEMPTS; attempt++) {
    const ids = attempt === 0 ? null : otherIds(tables, { householdId: actor.householdId, attempt })
    const here = sameHere(db, actor, { tables, ids })
    if (here) return { here, ids }
  }
  return null
}

/** Which records of the archive are here, the same; null where one is here and differs, or would change one that is here. */
function sameHere(db: Db, actor: Actor, given: { readonly tables: Tables; readonly ids: NewIds | null }): ReadonlySet<string> | null {
  const here = new Set<string>()
  const names = namesOfPeople(db, actor)
  const isEntry = db.$client.prepare('SELECT 1 FROM entries WHERE id = ?')
  const isLater = db.$client.prepare('SELECT 1 FROM part_revisions WHERE part_id = ? AND id > ?')
  for (const [table, rows] of given.tables) {
    if (table.name === 'settings') continue
    const find = db.$client.prepare(`SELECT * FROM ${table.name} WHERE id = ?`)
    for (const read of rows) {
      const row = renamed(table, read, given.ids)
      const found = find.get(row.id) as Row | undefined
      if (!found) {
        // A recorded entry never gets another change, and what is known last of a part here stays last.
        if (table.name === 'changes' && isEntry.get(row.entry_id)) return null
        if (table.name === 'part_revisions' && isLater.get(row.part_id, row.id)) return null
        continue
      }
      if (found.household_id !== actor.householdId) return null
      const present = lineOf(table, shownRow(table, parsed(table, found), { people: names, given: {} }), table.changing)
      if (present !== lineOf(table, row, table.changing)) return null
      here.add(keyOf(table, row))
    }
  }
  return here
}

type Put = {
  readonly added: Readonly<Record<string, number>>
  readonly same: number
  /** vehicles whose journal something came into, and parts of which something is known besides */
  readonly vehicles: ReadonlySet<string>
  readonly parts: ReadonlySet<string>
}

function putAll(db: Db, clock: Clock, actor: Actor, given: { readonly tables: Tables; readonly placed: Placed }): Result<Put> {
  const { placed } = given
  const authors = new Authors(db, clock, actor)
  const added: Record<string, number> = {}
  const [vehicles, parts] = [new Set<string>(), new Set<string>()]
  let same = 0
  for (const [table, rows] of given.tables) {
    const insert = inserter(db, table)
    for (const read of rows) {
      const row = renamed(table, read, placed.ids)
      if (placed.here.has(keyOf(table, row))) {
        same++
        continue
      }
      if (table.name === 'settings' && isSet(db, actor, String(row.name))) continue
      try {
        insert(actor, { ...row, ...('recorded_by' in row ? { recorded_by: authors.idOf(String(row.recorded_by)) } : {}) })
      } catch (fault) {
        if (!(fault as { code?: string }).code?.startsWith('SQLITE_CONSTRAINT')) throw fault
        const says = `${fileOf(table.name)}: a record (${String(read.id ?? read.name).slice(0, 80)}) stands in the place of another.`
        return refused([refusal('archive-not-taken', `${says} Nothing was taken in.`)])
      }
      added[table.name] = (added[table.name] ?? 0) + 1
      if (table.name === 'vehicles') keepChangingDigest(db, 'vehicles', String(row.id))
      if (table.name === 'settings') keepChangingDigest(db, 'settings', `${actor.householdId} ${row.name}`)
      if (table.name === 'vehicles') vehicles.add(String(row.id))
      if (table.name === 'entries') vehicles.add(String(row.vehicle_id))
      if (table.name === 'part_revisions') parts.add(String(row.part_id))
    }
  }
  return done({ added, same, vehicles, parts })
}

/** By name; somebody who is not known here becomes a person that nobody can sign in as. */
class Authors {
  readonly #db: Db
  readonly #clock: Clock
  readonly #actor: Actor
  readonly #known: Map<string, string>

  constructor(db: Db, clock: Clock, actor: Actor) {
    this.#db = db
    this.#clock = clock
    this.#actor = actor
    this.#known = new Map([...namesOfPeople(db, actor)].map(([id, name]) => [folded(name), id]))
  }

  idOf(name: string): string {
    const known = this.#known.get(folded(name))
    if (known !== undefined) return known
    const id = newId(this.#clock)
    const at = this.#clock.now().toISOString()
    this.#db
      .insert(people)
      // The name as it is folded is one of all households: this one is folded apart, and cannot be typed.
      .values({
        id,
        householdId: this.#actor.householdId,
        name,
        nameFolded: `\u0001${id}`,
        passwordHash: 'scrypt$none',
        role: 'viewer',
        disabledAt: at,
        recordedAt: at,
      })
      .run()
    keepChangingDigest(this.#db, 'people', id)
    this.#known.set(folded(name), id)
    return id
  }
}

function inserter(db: Db, table: ArchiveTable): (actor: Actor, row: Row) => void {
  const columns = ['household_id', ...table.columns]
  const statement = db.$client.prepare(`INSERT INTO ${table.name} (${columns.join(', ')}) VALUES (${columns.map(() => '?').join(', ')})`)
  const keyed = table.columns.includes('once_key')
    ? db.$client.prepare(`SELECT 1 FROM ${table.name} WHERE household_id = ? AND once_key = ?`)
    : null
  return (actor, row) => {
    // A form that was sent here by the same key is another form.
    const own = keyed && row.once_key !== null && keyed.get(actor.householdId, row.once_key) ? { ...row, once_key: null } : row
    const values = table.columns.map((name) => {
      const value = (own as Row)[name] ?? null
      return table.json.includes(name) && value !== null ? JSON.stringify(value) : value
    })
    statement.run(actor.householdId, ...(values as (string | number | null)[]))
  }
}

/** An entry has one later version or one standing withdrawal at most, whatever was here and came in. */
function faultsOfCorrections(db: Db, actor: Actor): readonly Refusal[] {
  const twice = db.$client
    .prepare(
      `SELECT t.title FROM entries c JOIN entries t ON t.id = c.corrects_id WHERE c.household_id = ? AND (c.correction = 'replaced'
         OR NOT EXISTS (SELECT 1 FROM entries b WHERE b.corrects_id = c.id AND b.correction = 'withdrawn'))
       GROUP BY c.corrects_id HAVING count(*) > 1 LIMIT 1`,
    )
    .pluck()
    .get(actor.householdId) as string | undefined
  if (twice === undefined) return []
  return [refusal('archive-not-taken', `${fileOf('entries')}: the entry “${twice.slice(0, 80)}” is corrected twice. Nothing was taken in.`)]
}

/** Every journal that something came into has to fold from its first entry to its last. */
function faultsOfJournal(
  db: Db,
  actor: Actor,
  given: { readonly id: string; readonly archive: OpenedArchive; readonly placed: Placed },
): readonly Refusal[] {
  const vehicle = vehicleRow(db, actor, given.id)
  if (!vehicle) return [refusal('archive-not-taken', `${fileOf('entries')}: an entry names a vehicle that is not in the archive.`)]
  const { live } = journalOf(db, actor, given.id)
  const folded = fold(live, undefined, { start: emptyState(vehicle), kindOfPart: kindsOfParts(db, actor) })
  if (!('conflict' in folded)) return []
  const title = live.find((entry) => entry.id === folded.entryId)?.title ?? ''
  const where = placeOfChange(given, { entryId: folded.entryId, change: folded.change })
  const says = `${where}: the entry “${title.slice(0, 80)}” of ${vehicle.name} does not apply: ${folded.conflict.sentence}`
  return [refusal('archive-not-taken', `${says} Nothing was taken in.`)]
}

/** File and line of a change; the file alone where the change was here before. */
function placeOfChange(
  given: { readonly archive: OpenedArchive; readonly placed: Placed },
  change: { readonly entryId: string; readonly change: number },
): string {
  const name = fileOf('changes')
  if (!given.archive.manifest.files[name]) return name
  let line = 0
  const found: { readonly line: number; readonly position: number }[] = []
  for (const row of rowsOfFile(given.archive.pathOf(name))) {
    line++
    const entry = String(row.entry_id)
    if ((given.placed.ids?.get(entry) ?? entry) === change.entryId) found.push({ line, position: Number(row.position) })
  }
  const at = found.sort((a, b) => a.position - b.position)[change.change]
  return at ? `${name}, line ${at.line}` : name
}

function isSet(db: Db, actor: Actor, name: string): boolean {
  return db.$client.prepare('SELECT 1 FROM settings WHERE household_id = ? AND name = ?').get(actor.householdId, name) !== undefined
}

function rowsNamed(tables: Tables, name: string): Iterable<Row> {
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

/** Originals that were put in place for nothing; one that a row names by now stays. */
async function forget(db: Db, paths: readonly string[]): Promise<void> {
  const named = db.$client.prepare('SELECT 1 FROM photos WHERE sha256 = ?')
  for (const path of paths) if (!named.get(basename(path, extname(path)))) await unlink(path).catch(() => {})
}
