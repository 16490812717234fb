/** Every job of the installation. A new one is a line here. */
import { listBackups } from './backup.ts'
import type { Clock } from './clock.ts'
import { type Db, foldLog, isInMemory } from './database.ts'
import { forgetOldEntering } from './entering.ts'
import { type Job, lastGoodRun } from './jobs.ts'
import { inNightProcess } from './night-processes.ts'
import { backUp } from './night-tasks.ts'
import { sweepTemporary } from './photo-files.ts'
import { purgeTrash } from './photos.ts'
import { recheck } from './projection.ts'
import { checkSanity, readOnlyBecause, wordsOf } from './sanity.ts'
import { forgetOldSecurityEvents } from './security-log.ts'
import { forgetOldSessions } from './sessions.ts'
import { forgetOldDeliveries, householdsTold } from './webhooks.ts'

export type JobContext = { readonly db: Db; readonly clock: Clock; readonly data: string; readonly backups: string }

export function standingJobs(context: JobContext): readonly Job[] {
  const { db, clock, data, backups } = context
  return [
    { name: 'recheck', title: 'Judge again what a new figure concerns', every: 'hour', run: () => recheckAll(db) },
    { name: 'tidy', title: 'Tidy up', every: 'hour', run: () => tidy(context) },
    {
      name: 'backup',
      title: 'Backup',
      every: 'night',
      run: () => {
        const asked = { file: db.$client.name, data, now: clock.now().toISOString(), folder: backups }
        return isInMemory(db) ? backUp({ db, ...asked }) : inNightProcess(db, 'backup', asked)
      },
    },
    {
      name: 'sanity',
      title: 'Look whether all is as it was written',
      every: 'night',
      run: async () => {
        const look = () => inNightProcess(db, 'look', { file: db.$client.name, data, now: clock.now().toISOString() })
        return wordsOf(await checkSanity({ db, clock, data, ...(isInMemory(db) ? {} : { look }) }))
      },
    },
    {
      name: 'forget',
      title: 'Forget ways in and messages that are long over',
      every: 'night',
      run: () => `${forgetOldEntering(db, clock)} tickets and devices and ${forgetOldDeliveries(db, clock)} messages forgotten.`,
    },
    {
      name: 'trash',
      title: 'Empty the trash of photos older than thirty days',
      every: 'night',
      run: async () => `${await purgeTrash(db, clock, { data, lastBackupAt: await lastBackupAt(context) })} photos went.`,
    },
  ]
}

/** When the newest backup was made that is there and was made without a fault. */
export async function lastBackupAt({ db, backups }: JobContext): Promise<string | null> {
  const [newest] = await listBackups(backups)
  return newest && lastGoodRun(db, 'backup') !== null ? newest.contents.made_at : null
}

/** Asked every minute: where somebody is told of what comes over its limit, nobody has to look first. Damaged records are not judged for that. */
export async function recheckTold(db: Db): Promise<number> {
  if (readOnlyBecause(db) !== null) return 0
  let judged = 0
  for (const householdId of householdsTold(db)) judged += await recheck(db, householdId)
  return judged
}

async function recheckAll(db: Db): Promise<string> {
  const households = db.$client.prepare('SELECT id FROM households').pluck().all() as string[]
  let judged = 0
  for (const householdId of households) judged += await recheck(db, householdId)
  return `${judged} vehicles judged again.`
}

/** The log of writes is folded into the file while nobody waits for it. */
async function tidy({ db, clock, data }: JobContext): Promise<string> {
  const gone = forgetOldSessions(db, clock) + forgetOldSecurityEvents(db, clock)
  const swept = await sweepTemporary(data, clock.now())
  db.$client.pragma('optimize')
  foldLog(db)
  return `${gone} old sessions and events forgotten, ${swept} leftovers swept.`
}
