/** How many originals the records name, and their bytes; each once, though several records show it. */
import type { Db } from './database.ts'
import { Lately } from './lately.ts'
import { writesOf } from './writes.ts'

export type PhotoWeight = {
  /** records of photos and papers */
  readonly photos: number
  readonly originals: number
  readonly originals_bytes: number
}

const MOST_households = 20
const kept = new WeakMap<Db, { readonly writes: () => string | null; readonly weights: Lately<Weighed> }>()
type Weighed = { readonly at: string; readonly weight: PhotoWeight }

/** Of one household; of all where none is named. Weighed anew when anything was written since. */
export function photoWeight(db: Db, householdId: string | null): PhotoWeight {
  const mine = kept.get(db) ?? { writes: writesOf(db), weights: new Lately<Weighed>(MOST_households) }
  kept.set(db, mine)
  const at = mine.writes()
  const key = householdId ?? ''
  const known = mine.weights.get(key)
  if (known && known.at === at) return known.weight
  const weight = weigh(db, householdId)
  if (at !== null) mine.weights.set(key, { at, weight }, 1)
  return weight
}

/** All rows in the order they lie in, less those of a content that another row has: sorting all of them out takes five times as long. */
function weigh(db: Db, householdId: string | null): PhotoWeight {
  const ask = (sql: string) => db.$client.prepare(sql).raw().get({ householdId }) as [number, number]
  const [photos, bytes] = ask(`SELECT count(*), coalesce(sum(bytes), 0) FROM photos WHERE ${OWN}`)
  const [again, again_bytes] = hasRepeats(db) ? ask(REPEATS) : [0, 0]
  return { photos, originals: photos - again, originals_bytes: bytes - again_bytes }
}

/** Read from the index alone. Most often there are none, and this tells it sooner than looking for them. */
function hasRepeats(db: Db): boolean {
  return db.$client.prepare('SELECT count(*) > count(DISTINCT sha256) FROM photos').pluck().get() === 1
}

/** No index of households: it would lead to the rows in another order than theirs. */
const OWN = '(:householdId IS NULL OR household_id = :householdId)'
const REPEATS = `WITH twice AS (SELECT sha256 FROM photos GROUP BY sha256 HAVING count(*) > 1)
  SELECT coalesce(sum(rows - 1), 0), coalesce(sum((rows - 1) * bytes), 0)
  FROM (SELECT bytes, count(*) AS rows FROM photos WHERE sha256 IN twice AND ${OWN} GROUP BY sha256, bytes)`
