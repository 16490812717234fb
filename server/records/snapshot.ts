/** A copy of the database before its tables are changed by a newer version: the way back. */
import { existsSync, mkdirSync, readdirSync, renameSync, rmSync, statfsSync, statSync } from 'node:fs'
import { dirname, join } from 'node:path'
import Database from 'better-sqlite3'

const ROOM = 2.5

/** Made, read back and put under its name before the first statement of a migration; if that does not work nothing is migrated. */
export function snapshotBefore(
  client: Database.Database,
  given: { readonly file: string; readonly version: number; readonly at: Date },
): string {
  const { file, version, at } = given
  const folder = snapshotsOf(file)
  mkdirSync(folder, { recursive: true, mode: 0o700 })
  const disk = statfsSync(folder)
  const needed = statSync(file).size * ROOM
  if (disk.bavail * disk.bsize < needed)
    throw new Error(
      `An upgrade copies the database first and needs ${Math.ceil(needed / 1e6)} MB free in ${folder}; there is less. Nothing was changed.`,
    )
  const name = `before-version-${version}-${at.toISOString().replace(/[:.]/g, '-')}.sqlite`
  const part = join(folder, `.making-${name}`)
  try {
    rmSync(part, { force: true })
    client.prepare('VACUUM INTO ?').run(part)
    const copy = new Database(part, { readonly: true })
    try {
      const says = copy.pragma('integrity_check', { simple: true })
      if (says !== 'ok') throw new Error(`the copy is not sound: ${String(says)}`)
    } finally {
      copy.close()
    }
    renameSync(part, join(folder, name))
  } catch (fault) {
    rmSync(part, { force: true })
    throw new Error(
      `The database could not be copied before the upgrade, so it was left as it is: ${fault instanceof Error ? fault.message : String(fault)}`,
    )
  }
  return join(folder, name)
}

/** The newest copy that an upgrade made; null where there is none. */
export function newestSnapshot(file: string): string | null {
  const folder = snapshotsOf(file)
  if (!existsSync(folder)) return null
  const names = readdirSync(folder).filter((name) => name.startsWith('before-version-') && name.endsWith('.sqlite'))
  const newest = names.sort((a, b) => (a.slice(-29) < b.slice(-29) ? -1 : 1)).at(-1)
  return newest === undefined ? null : join(folder, newest)
}

function snapshotsOf(file: string): string {
  return join(dirname(file), 'upgrades')
}
