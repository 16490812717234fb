/**
 * What of a night takes minutes where there are many photos. It needs nothing of the running house but where it lies, so that another process
 * can do it.
 */
import Database from 'better-sqlite3'
import { BEFORE_RESTORE, makeBackup, megabytes, removeUnfinished, rotateBackups } from './backup.ts'
import { fixedClock } from './clock.ts'
import { realFiles } from './files.ts'
import { lookThrough, type Seen } from './look.ts'

type Asked = { readonly file: string; readonly data: string; readonly now: string }

export const nightTasks = {
  /** makes a backup, lets go of old ones, and says what was done */
  async backup({ file, data, now, folder }: Asked & { readonly folder: string }): Promise<string> {
    const $client = new Database(file, { readonly: true, fileMustExist: true })
    try {
      return await backUp({ db: { $client }, data, now, folder })
    } finally {
      $client.close()
    }
  },

  look({ file, data, now }: Asked): Promise<Seen> {
    return lookThrough(file, { data, now: new Date(now) })
  },
} as const

export async function backUp(given: {
  readonly db: { readonly $client: Database.Database }
  readonly data: string
  readonly now: string
  readonly folder: string
}): Promise<string> {
  const { db, data, now, folder } = given
  await removeUnfinished(folder, realFiles, BEFORE_RESTORE)
  const made = await makeBackup({ db, clock: fixedClock(now), data, folder })
  const { dropped } = await rotateBackups(folder)
  return `${made.name}: ${megabytes(made.bytes)}, ${made.contents.rows.entries ?? 0} entries, ${made.contents.photos} photos and papers${
    made.contents.missing > 0 ? `; ${made.contents.missing} originals were missing` : ''
  }${dropped.length > 0 ? `; ${dropped.length} old backups went` : ''}.`
}
