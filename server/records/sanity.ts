/** The nightly look at what is kept: rows against their digests, the file's own structure, the search index, and every photo against its hash. */
import { lstat, mkdir, readdir, rename } from 'node:fs/promises'
import { dirname, join, relative } from 'node:path'
import Database from 'better-sqlite3'
import { eq } from 'drizzle-orm'
import { photoFault, photosNamed } from './backup.ts'
import type { Clock } from './clock.ts'
import { forgetDamage, isDamage, noteDamage, notedDamage } from './damage.ts'
import type { Db } from './database.ts'
import { soundness, soundnessInTurns } from './database-file.ts'
import { type Files, realFiles } from './files.ts'
import { photoName } from './photo-path.ts'
import { remakeHeads } from './projection.ts'
import { jobs } from './schema.ts'
import { mendSearch } from './search-rows.ts'

export type Sanity = {
  /** what is wrong with the records: while there is any, nothing is written */
  readonly records: readonly string[]
  /** photos that are missing or altered, each by name */
  readonly photos: readonly string[]
  /** files that no record names, put into quarantine/ */
  readonly moved: number
  /** what is made from records and did not read as it should, and was made again: heads of vehicles, and the rows that are searched (one) */
  readonly remade: number
}

const ORPHAN_ms = 24 * 3_600_000
/** How the job's failure begins where the records themselves are wrong. */
const RECORDS = 'Records: '

export async function checkSanity(given: {
  readonly db: Db
  readonly clock: Clock
  readonly data: string
  readonly files?: Files
}): Promise<Sanity> {
  const { db, clock, data, files = realFiles } = given
  const records = [...(await soundnessOf(db)), ...searchFaults(db)]
  if (records.length > 0) noteDamage(db, records.join(' '))
  else forgetDamage(db)
  const photos: string[] = []
  const named = new Set<string>()
  // Which files are named is not known where records are damaged: none is moved then.
  if (records.length > 0) return { records, photos, moved: 0, remade: 0 }
  for (const { sha256, type, bytes } of photosNamed(db.$client)) {
    const name = photoName({ sha256, type })
    named.add(name)
    const fault = await photoFault(data, { name, sha256, bytes }, files)
    if (fault) photos.push(fault)
  }
  return {
    records,
    photos,
    moved: await moveOrphans({ data, named, now: clock.now() }),
    remade: (await remakeHeads(db)) + ((await mendSearch(db)) > 0 ? 1 : 0),
  }
}

/** What the job says; it fails where anything is wrong, so that its failure is seen. */
export function wordsOf(found: Sanity): string {
  const moved = [
    ...(found.moved > 0 ? [`${found.moved} files that no record names were put into quarantine.`] : []),
    ...(found.remade > 0 ? [`${found.remade} of the summaries and lists made from the records were not right and were made again.`] : []),
  ]
  if (found.records.length > 0) throw new Error(`${RECORDS}${[...found.records, ...found.photos, ...moved].join(' ')}`)
  if (found.photos.length > 0) throw new Error([...found.photos, ...moved].join(' '))
  return ['Every row and every photo is as it was written.', ...moved].join(' ')
}

/** Why nothing is written at present, in words; null where all is well. */
export function readOnlyBecause(db: Db): string | null {
  const says = damageOf(db)
  return says === null ? null : `Records here are damaged, so nothing is written until a good backup is restored. ${says.slice(0, 400)}`
}

/** What is damaged, all that is known of it; null where nothing is. */
export function damageOf(db: Db): string | null {
  const known = notedDamage(db)
  if (known !== null) return known
  try {
    const row = db.select().from(jobs).where(eq(jobs.name, 'sanity')).get()
    return row?.result === 'failed' && row.says.startsWith(RECORDS) ? row.says.slice(RECORDS.length) : null
  } catch (fault) {
    if (!isDamage(fault)) throw fault
    noteDamage(db, wordsFor(fault))
    return wordsFor(fault)
  }
}

/** Looks quickly at the file's structure, at every start. */
export function lookAtStart(db: Db, clock: Clock): void {
  const says = quickLook(db)
  if (says === 'ok') return
  noteDamage(db, says)
  const at = clock.now().toISOString()
  const row = { name: 'sanity', startedAt: at, endedAt: at, result: 'failed' as const, says: `${RECORDS}${says}`.slice(0, 4000) }
  try {
    db.insert(jobs).values(row).onConflictDoUpdate({ target: jobs.name, set: row }).run()
  } catch (fault) {
    if (!isDamage(fault)) throw fault
  }
}

function quickLook(db: Db): string {
  try {
    return String(db.$client.pragma('quick_check(1)', { simple: true }))
  } catch (fault) {
    if (!isDamage(fault)) throw fault
    return wordsFor(fault)
  }
}

/** Read by a connection of its own, as of one moment, so that others write and look meanwhile. */
async function soundnessOf(db: Db): Promise<readonly string[]> {
  let reader: Database.Database | undefined
  try {
    if (db.$client.name === ':memory:') return soundness(db.$client)
    reader = new Database(db.$client.name, { readonly: true })
    reader.pragma('cell_size_check = ON')
    reader.exec('BEGIN')
    return await soundnessInTurns(reader)
  } catch (fault) {
    if (!isDamage(fault)) throw fault
    return [wordsFor(fault)]
  } finally {
    reader?.close()
  }
}

function wordsFor(fault: unknown): string {
  return `The database file cannot be read everywhere: ${(fault as Error).message}.`
}

/** The index is made from rows that are there: a broken one is made again, and that is no fault. */
function searchFaults(db: Db): readonly string[] {
  try {
    db.$client.exec("INSERT INTO search_index (search_index, rank) VALUES ('integrity-check', 1)")
    return []
  } catch {
    try {
      db.$client.exec("INSERT INTO search_index (search_index) VALUES ('rebuild')")
      return []
    } catch (fault) {
      return [`The search index is damaged and cannot be made again: ${fault instanceof Error ? fault.message : String(fault)}.`]
    }
  }
}

/** Never deleted at once: a file that no record names may be one whose record is in a backup. */
async function moveOrphans(given: { readonly data: string; readonly named: ReadonlySet<string>; readonly now: Date }): Promise<number> {
  const { data, named, now } = given
  const found = await readdir(join(data, 'photos'), { recursive: true, withFileTypes: true }).catch(() => [])
  let moved = 0
  for (const one of found) {
    if (!one.isFile()) continue
    const path = join(one.parentPath, one.name)
    const name = relative(data, path).split(/[\\/]/).join('/')
    if (named.has(name) || now.getTime() - (await lstat(path)).mtimeMs < ORPHAN_ms) continue
    const to = join(data, 'quarantine', name.slice('photos/'.length))
    await mkdir(dirname(to), { recursive: true, mode: 0o700 })
    await rename(path, to)
    moved++
  }
  return moved
}
