/** Past 200 lines: the whole life of a backup. A copy of the database and of every photo it names, verified before it gets its final name. */
import { dirname, join } from 'node:path'
import Database from 'better-sqlite3'
import { ContentsFault, type Head, headOf, type PhotoFile, photosIn, photosReadable, writeContents } from './backup-contents.ts'
import type { Clock } from './clock.ts'
import type { Db } from './database.ts'
import { checkDatabaseFileInTurns } from './database-file.ts'
import { type Files, realFiles } from './files.ts'
import { Lately } from './lately.ts'
import { photoName } from './photo-path.ts'

const unfinished = '.making-'
const dropped = '.dropping-'
const nameShape = /^\d{4}-\d{2}-\d{2}T\d{2}-\d{2}-\d{2}-\d{3}Z(-[a-z-]+)?$/
export type Contents = Pick<Head, 'made_at' | 'schema_version' | 'rows'> & { readonly photos: number; readonly missing: number }
export type Backup = { readonly name: string; readonly folder: string; readonly contents: Contents; readonly bytes: number }
export type MadeBackup = Backup & { readonly photos: readonly PhotoFile[]; readonly missing: readonly string[] }

export class BackupFault extends Error {}

/** The label of what is kept of the present before another backup takes its place. */
export const BEFORE_RESTORE = 'before-restore'
const UNREADABLE = 'Its list of contents (manifest.json) is missing or cannot be read.'

export type BackupGiven = {
  readonly db: Pick<Db, '$client'>
  readonly clock: Clock
  /** the data folder */
  readonly data: string
  /** where backups are kept */
  readonly folder: string
  readonly files?: Files
  /** kept in the name: `BEFORE_RESTORE` */
  readonly label?: string
}

/** Everything at one moment. Under its final name only when all of it was read back and is on the disk. */
export async function makeBackup(given: BackupGiven): Promise<MadeBackup> {
  const { db, clock, data, folder, files = realFiles } = given
  const madeAt = clock.now().toISOString()
  await files.mkdir(folder)
  const before = await listBackups(folder, files)
  const name = freeName(before, madeAt, given.label)
  const temp = join(folder, `${unfinished}${name}`)
  try {
    await files.mkdir(temp)
    await enoughSpace(db, folder, files)
    const file = join(temp, 'loombook.sqlite')
    db.$client.prepare('VACUUM INTO ?').run(file)
    const check = await checkDatabaseFileInTurns(file)
    if (check.faults.length > 0) throw new BackupFault(`The copy was not sound, so it was not kept. ${check.faults[0]}`)
    await files.sync(file)
    const { photos, missing } = await takePhotos({ file, data, temp, before, files })
    const bytes = (await files.bytes(file)) ?? 0
    const database = { name: 'loombook.sqlite' as const, bytes, sha256: await files.sha256(file) }
    const whole = { made_at: madeAt, schema_version: check.version, database, rows: check.rows, missing }
    const head = await writeContents(temp, { head: whole, photos, files })
    await files.sync(temp)
    await files.rename(temp, join(folder, name))
    await files.sync(folder)
    return { name, folder: join(folder, name), ...factsOf(head), photos, missing }
  } catch (fault) {
    await files.remove(temp).catch(() => undefined)
    throw fault
  }
}

/** Newest first. Only those whose list of contents can be read; whether all of it is there, `verifyBackup` tells. */
export async function listBackups(folder: string, files: Files = realFiles): Promise<Backup[]> {
  const found: Backup[] = []
  for (const name of await namesIn(folder, files)) {
    const facts = nameShape.test(name) ? await factsIn(join(folder, name), files) : null
    if (facts) found.push({ name, folder: join(folder, name), ...facts })
  }
  return found.sort((a, b) => newestFirst(a.contents.made_at, b.contents.made_at) || newestFirst(a.name, b.name))
}

type Facts = Pick<Backup, 'contents' | 'bytes'>
/** Of backups listed lately, as long as their list of contents is the one it was. */
const known = new Lately<Facts>(200)

async function factsIn(folder: string, files: Files): Promise<Facts | null> {
  const path = join(folder, 'manifest.json')
  const key = `${path} ${await files.bytes(path)} ${await files.changed_ms(path)}`
  const before = known.get(key)
  if (before) return before
  const head = await headOf(folder, files)
  if (!head) return null
  known.set(key, factsOf(head), 1)
  return factsOf(head)
}

function factsOf({ made_at, schema_version, rows, totals, missing, database }: Head): Facts {
  const contents = { made_at, schema_version, rows, photos: totals.photos, missing: missing.length }
  return { contents, bytes: database.bytes + totals.bytes }
}

function newestFirst(a: string, b: string): number {
  return a < b ? 1 : a > b ? -1 : 0
}

/** What is wrong with it, as sentences; empty where all of it is there and fits. */
export async function verifyBackup(folder: string, files: Files = realFiles): Promise<string[]> {
  const head = await headOf(folder, files)
  if (!head) return [UNREADABLE]
  const faults: string[] = []
  const file = join(folder, head.database.name)
  const bytes = await files.bytes(file)
  if (bytes === null) return ['Its database is missing.']
  if (bytes !== head.database.bytes || (await files.sha256(file)) !== head.database.sha256)
    faults.push('Its database is not as it was written.')
  const check = await checkDatabaseFileInTurns(file)
  faults.push(...check.faults)
  if (check.faults.length === 0 && check.version !== head.schema_version) faults.push('Its list of contents names another version.')
  for (const [table, count] of Object.entries(check.faults.length === 0 ? head.rows : {}))
    if (check.rows[table] !== count) faults.push(`${table} has ${check.rows[table] ?? 'no'} rows where ${count} were written.`)
  return [...faults, ...(await photoFaults(folder, head, files))]
}

async function photoFaults(folder: string, { totals }: Head, files: Files): Promise<readonly string[]> {
  const faults: string[] = []
  const seen = { photos: 0, bytes: 0 }
  try {
    for await (const photo of photosIn(folder, files)) {
      const fault = await photoFault(folder, photo, files)
      if (fault) faults.push(fault)
      seen.photos += 1
      seen.bytes += photo.bytes
    }
  } catch (fault) {
    if (!(fault instanceof ContentsFault)) throw fault
    return [...faults, `${UNREADABLE} ${fault.message}`]
  }
  if (seen.photos !== totals.photos || seen.bytes !== totals.bytes)
    faults.push('Its list of contents does not name all the photos it counts.')
  return faults
}

/** The newest that is whole, every byte of it read; null where there is none. */
export async function lastWhole(folder: string, files: Files = realFiles): Promise<Backup | null> {
  for (const backup of await listBackups(folder, files)) if ((await verifyBackup(backup.folder, files)).length === 0) return backup
  return null
}

export type Kept = { readonly kept: readonly string[]; readonly dropped: readonly string[] }

/** Keeps the newest of each of 7 days, 4 weeks and 12 months, and always the newest of all. */
export async function rotateBackups(folder: string, files: Files = realFiles): Promise<Kept> {
  const all = await listBackups(folder, files)
  const kept = new Set(keptOf(all.map(({ name, contents }) => ({ name, madeAt: contents.made_at }))))
  // The newest that is whole stays, whatever its age: it is what there is to go back to.
  const whole = await lastWhole(folder, files)
  if (whole) kept.add(whole.name)
  const old = all.filter(({ name }) => !kept.has(name)).map(({ name }) => name)
  for (const name of old) {
    // Renamed first: a backup that is half deleted never stands under its own name.
    await files.rename(join(folder, name), join(folder, `${dropped}${name}`))
    await files.remove(join(folder, `${dropped}${name}`))
  }
  return { kept: [...kept], dropped: old }
}

export function keptOf(all: readonly { readonly name: string; readonly madeAt: string }[]): string[] {
  const sorted = [...all].sort((a, b) => newestFirst(a.madeAt, b.madeAt))
  const kept = new Set(sorted.slice(0, 1).map(({ name }) => name))
  const rules: readonly (readonly [number, (madeAt: string) => string])[] = [
    [7, (madeAt) => madeAt.slice(0, 10)],
    [4, weekOf],
    [12, (madeAt) => madeAt.slice(0, 7)],
  ]
  for (const [count, period] of rules) {
    const seen = new Set<string>()
    for (const { name, madeAt } of sorted) {
      if (seen.has(period(madeAt)) || seen.size === count) continue
      seen.add(period(madeAt))
      kept.add(name)
    }
  }
  return [...kept]
}

/**
 * What an interrupted backup or rotation left behind: at start, before anything else makes one, and before the night's is made, since whoever
 * made the one before may have been killed. `besides`: the label of those that may be under way meanwhile.
 */
export async function removeUnfinished(folder: string, files: Files = realFiles, besides?: string): Promise<number> {
  const isLeft = (name: string) => name.startsWith(unfinished) || name.startsWith(dropped)
  const left = (await namesIn(folder, files)).filter((name) => isLeft(name) && !(besides && name.endsWith(`-${besides}`)))
  for (const name of left) await files.remove(join(folder, name))
  return left.length
}

export function photosNamed(file: Db['$client']): { readonly sha256: string; readonly type: string; readonly bytes: number }[] {
  if (Number(file.pragma('user_version', { simple: true })) < 2) return []
  return file.prepare('SELECT DISTINCT sha256, type, bytes FROM photos ORDER BY sha256, type').all() as ReturnType<typeof photosNamed>
}

/**
 * A photo never changes, so one that the backup before holds is linked from there and takes no room. It is not linked from the data
 * folder: there a flipped bit would be in both.
 */
async function takePhotos(given: {
  readonly file: string
  readonly data: string
  readonly temp: string
  readonly before: readonly Backup[]
  readonly files: Files
}): Promise<{ photos: PhotoFile[]; missing: string[] }> {
  const { data, temp, before, files } = given
  const photos: PhotoFile[] = []
  const folders = new Set<string>()
  const take = async (
    { sha256, name }: Named,
    from: { readonly earlier?: string | undefined; readonly data?: string },
  ): Promise<boolean> => {
    const to = join(temp, ...name.split('/'))
    if (!folders.has(dirname(to))) await files.mkdir(dirname(to))
    folders.add(dirname(to))
    const bytes =
      (from.earlier && (await linked({ from: join(from.earlier, name), to, sha256, files }))) ||
      (from.data && (await copied({ from: join(from.data, name), to, sha256, files })))
    if (bytes) photos.push({ name, bytes, sha256 })
    return Boolean(bytes)
  }
  const [newest, ...older] = before
  const held = await namesHeldBy(newest, files)
  let missing: Named[] = []
  for (const one of namedIn(given.file)) {
    const named = { sha256: one.sha256, name: photoName(one) }
    if (!(await take(named, { earlier: held.has(named.name) ? newest?.folder : undefined, data }))) missing.push(named)
  }
  // What is neither in the newest nor whole in the data folder may be in one before it; their lists are long, so one is read at a time.
  for (const backup of older) {
    if (missing.length === 0) break
    const holds = await namesHeldBy(backup, files)
    const still: Named[] = []
    for (const one of missing) if (!holds.has(one.name) || !(await take(one, { earlier: backup.folder }))) still.push(one)
    missing = still
  }
  for (const folder of folders) for (const one of [folder, dirname(folder)]) await files.sync(one)
  return { photos, missing: missing.map(({ name }) => name) }
}

type Named = { readonly sha256: string; readonly name: string }

async function namesHeldBy(backup: Backup | undefined, files: Files): Promise<ReadonlySet<string>> {
  const names = new Set<string>()
  if (backup) for await (const { name } of photosReadable(backup.folder, files)) names.add(name)
  return names
}

type Take = { readonly from: string; readonly to: string; readonly sha256: string; readonly files: Files }

async function linked({ from, to, sha256, files }: Take): Promise<number | null> {
  const bytes = await files.bytes(from)
  if (!bytes || (await files.sha256(from)) !== sha256) return null
  try {
    await files.link(from, to)
  } catch (fault) {
    if (!['EXDEV', 'EPERM', 'EMLINK', 'ENOTSUP'].includes((fault as NodeJS.ErrnoException).code ?? '')) throw fault
    await files.copy(from, to)
    await files.sync(to)
  }
  return bytes
}

async function copied({ from, to, sha256, files }: Take): Promise<number | null> {
  if ((await files.bytes(from)) === null) return null
  await files.copy(from, to)
  if ((await files.sha256(to)) !== sha256) {
    await files.remove(to)
    return null
  }
  await files.sync(to)
  return files.bytes(to)
}

export async function photoFault(folder: string, photo: PhotoFile, files: Files): Promise<string | null> {
  const path = join(folder, ...photo.name.split('/'))
  const bytes = await files.bytes(path)
  if (bytes === null) return `The photo ${photo.name} is missing.`
  return bytes === photo.bytes && (await files.sha256(path)) === photo.sha256 ? null : `The photo ${photo.name} is not as it was written.`
}

async function enoughSpace(db: Pick<Db, '$client'>, folder: string, files: Files): Promise<void> {
  const pages = Number(db.$client.pragma('page_count', { simple: true }))
  const needed = 1.2 * pages * Number(db.$client.pragma('page_size', { simple: true })) + 1_000_000
  const free = await files.free_bytes(folder)
  if (free < needed)
    throw new BackupFault(
      `There is not enough room for a backup: ${megabytes(needed)} are needed in ${folder} and ${megabytes(free)} are free.`,
    )
}

function namedIn(file: string): ReturnType<typeof photosNamed> {
  const copy = new Database(file, { readonly: true })
  try {
    return photosNamed(copy)
  } finally {
    copy.close()
  }
}

async function namesIn(folder: string, files: Files): Promise<string[]> {
  return (await files.bytes(folder)) === null ? [] : files.readdir(folder)
}

function freeName(before: readonly Backup[], madeAt: string, label: string | undefined): string {
  const taken = new Set(before.map(({ name }) => name))
  for (let at = new Date(madeAt).getTime(); ; at += 1) {
    const name = `${new Date(at).toISOString().replace(/[:.]/g, '-')}${label ? `-${label}` : ''}`
    if (!taken.has(name)) return name
  }
}

/** The Monday its week began on. */
function weekOf(madeAt: string): string {
  const day = new Date(`${madeAt.slice(0, 10)}T00:00:00Z`)
  return new Date(day.getTime() - ((day.getUTCDay() + 6) % 7) * 86_400_000).toISOString().slice(0, 10)
}

export function megabytes(bytes: number): string {
  return `${(bytes / 1e6).toFixed(1)} MB`
}
