/** Takes in archives that are not right, one after another, and says what it saw. Whatever throws, stays or lands elsewhere is a fault. */
import { mkdirSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import fc from 'fast-check'
import { journalOf } from '../../server/records/entry-rows.ts'
import { reportOn } from '../../server/records/projection.ts'
import { type House, house, into, out, small, tree } from './archive-forge.ts'
import { mutationOf } from './archive-mutations.ts'
import { rowCounts } from './book.ts'

export type Seen = { readonly cases: number; readonly taken: number; readonly refused: number; readonly faults: readonly string[] }

/** `folder` is empty and stays so but for the houses made in it. */
export async function fuzzImports(folder: string, given: { readonly count: number; readonly seed: number }): Promise<Seen> {
  const from = small(folder)
  const whole = await out(from, folder)
  const work = join(folder, 'work')
  let to = fresh(work)
  let [taken, refused, cases] = [0, 0, 0]
  const faults: string[] = []
  const empty = rowCounts(to.db)
  for (let batch = 0; cases < given.count; batch++) {
    const numRuns = Math.min(500, given.count - cases)
    for (const bytes of fc.sample(mutationOf(whole), { numRuns, seed: given.seed + batch })) {
      const name = `case ${cases} of seed ${given.seed}`
      cases++
      try {
        const answer = await into(to, bytes)
        const outside = tree(work).filter((path) => !path.startsWith(to.data) && path !== join(work, 'sent.zip'))
        if (outside.length > 0) faults.push(`${name}: wrote ${outside.join(', ')}`)
        if (!answer.ok) {
          refused++
          if (answer.refusals[0]?.code !== 'archive-not-taken') faults.push(`${name}: ${answer.refusals[0]?.code}`)
          if (JSON.stringify(rowCounts(to.db)) !== JSON.stringify(empty)) faults.push(`${name}: refused, and rows stayed`)
          if (tree(to.data).length > 0) faults.push(`${name}: refused, and files stayed`)
          continue
        }
        taken++
        faults.push(...faultsOfTaken(to).map((says) => `${name}: ${says}`))
      } catch (fault) {
        faults.push(`${name}: ${fault instanceof Error ? (fault.stack ?? fault.message) : String(fault)}`)
      }
      to.db.$client.close()
      to = fresh(work)
    }
  }
  to.db.$client.close()
  return { cases, taken, refused, faults }
}

/** What was taken in has to be sound: every page rests on it. */
function faultsOfTaken({ db, actor, data }: House): readonly string[] {
  const broken = db.$client.pragma('foreign_key_check') as unknown[]
  const faults = broken.length > 0 ? ['taken in, and points to nothing'] : []
  if (tree(join(data, 'tmp')).length > 0) faults.push('taken in, and temporary files stayed')
  const foreign = 'SELECT count(*) FROM entries WHERE household_id <> ?'
  if (db.$client.prepare(foreign).pluck().get(actor.householdId) !== 0) faults.push('taken in, for another household')
  for (const id of db.$client.prepare('SELECT id FROM vehicles').pluck().all() as string[]) {
    journalOf(db, actor, id)
    reportOn(db, actor, id)
    for (const on of ['2024-05-01', '2024-12-31']) reportOn(db, actor, id, on)
  }
  return faults
}

function fresh(work: string): House {
  rmSync(work, { recursive: true, force: true })
  mkdirSync(work, { recursive: true })
  return house(work, 'Owner')
}
