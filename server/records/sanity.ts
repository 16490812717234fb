/** The nightly look at what is kept: rows against their digests, the file's own structure, the search index, and every photo against its hash. */
import { eq } from 'drizzle-orm'
import type { Clock } from './clock.ts'
import { damageWords, forgetDamage, isDamage, noteDamage, notedDamage } from './damage.ts'
import { type Db, isInMemory } from './database.ts'
import type { Files } from './files.ts'
import { lookThrough, type Seen } from './look.ts'
import { CutOff } from './night-processes.ts'
import { remakeHeads } from './projection.ts'
import { jobs } from './schema.ts'
import { mendSearch } from './search-rows.ts'

export type Sanity = Seen & {
  /** what is made from records and did not read as it should, and was made again: heads of vehicles, and the rows that are searched (one) */
  readonly remade: number
}

/** How the job's failure begins where the records themselves are wrong. */
const RECORDS = 'Records: '
const NOT_AGAIN = ' Another look could not be made: '

/** `look` is done elsewhere where it would hold others up. */
export async function checkSanity(given: {
  readonly db: Db
  readonly clock: Clock
  readonly data: string
  readonly files?: Files
  readonly look?: () => Promise<Seen>
}): Promise<Sanity> {
  const { db, look = () => lookThrough(isInMemory(db) ? db.$client : db.$client.name, { ...given, now: given.clock.now() }) } = given
  const known = damageOf(db)
  const seen = await look().catch((fault) => {
    throw known === null || fault instanceof CutOff ? fault : notLookedAgain(known, fault)
  })
  const records = [...seen.records, ...searchFaults(db)]
  if (records.length > 0) noteDamage(db, records.join(' '))
  else forgetDamage(db)
  const remade = records.length > 0 ? 0 : (await remakeHeads(db)) + ((await mendSearch(db)) > 0 ? 1 : 0)
  return { ...seen, records, remade }
}

/** Damage that is known stays known, at the next start too, until a look has found otherwise. */
function notLookedAgain(known: string, fault: unknown): Error {
  const [damage] = known.split(NOT_AGAIN)
  return new Error(`${RECORDS}${damage?.slice(0, 3000)}${NOT_AGAIN}${fault instanceof Error ? fault.message : String(fault)}`)
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
    // While a look is under way, or was cut off, what the one before it found is still known.
    return row && row.result !== 'done' && row.says.startsWith(RECORDS) ? row.says.slice(RECORDS.length) : null
  } catch (fault) {
    if (!isDamage(fault)) throw fault
    noteDamage(db, damageWords(fault))
    return damageWords(fault)
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
    return damageWords(fault)
  }
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
