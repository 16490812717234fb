/** Whether this installation can take a save at present. */
import { type Db, newestVersion } from './database.ts'
import { freeBytes } from './file-system.ts'

/** Less than this and the next photos, or the log of writes, may not fit. */
const LEAST_FREE_bytes = 64 * 1024 * 1024
/** A probe must not hold up everybody for as long as a save may wait. */
const PROBE_WAITS_ms = 100

/** What stands in the way; null where nothing does. For the log, never for who asks without signing in. */
export async function unready(db: Db, data: string): Promise<string | null> {
  const version = Number(db.$client.pragma('user_version', { simple: true }))
  if (version !== newestVersion()) return `the tables are of version ${version}, not ${newestVersion()}`
  const waits_ms = Number(db.$client.pragma('busy_timeout', { simple: true }))
  try {
    db.$client.pragma(`busy_timeout = ${PROBE_WAITS_ms}`)
    tryToWrite(db, version)
  } catch (fault) {
    return `the database takes no write: ${(fault as Error).message}`
  } finally {
    db.$client.pragma(`busy_timeout = ${waits_ms}`)
  }
  const free = await freeBytes(data).catch(() => 0)
  return free < LEAST_FREE_bytes ? `only ${Math.floor(free / 1024 / 1024)} MB are free at ${data}` : null
}

/** The write lock is taken and a page is changed, then all of it is taken back. */
function tryToWrite(db: Db, version: number): void {
  db.$client.exec('BEGIN IMMEDIATE')
  try {
    db.$client.pragma(`user_version = ${version + 1}`)
  } finally {
    db.$client.exec('ROLLBACK')
  }
}
