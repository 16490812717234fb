/**
 * The data directory, taken for one Loombook: two would fight over photos, jobs and backups even where the database forbids the worst.
 * What cannot be right is refused before anything is written.
 */
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs'
import { hostname } from 'node:os'
import { join } from 'node:path'
import Database from 'better-sqlite3'
import { networkFileSystem, type Statfs } from './file-system.ts'

/** Why a directory cannot be used, in words for the owner. */
export class DirectoryFault extends Error {}

/** A second start may overlap the end of the one before. */
const WAITS_ms = 1500

export type Taken = { readonly warning: string | null; readonly release: () => void }

/** Takes it until it is let go or the process ends, however that happens: the lock is the system's own, on a file that holds nothing. */
export async function takeDirectory(
  data: string,
  given: { readonly allowNetworkFileSystem?: boolean | undefined; readonly statfs?: Statfs } = {},
): Promise<Taken> {
  try {
    mkdirSync(data, { recursive: true, mode: 0o700 })
  } catch (fault) {
    throw new DirectoryFault(`${data} cannot be made: ${(fault as Error).message}.${whoAmI()}`)
  }
  const over = await networkFileSystem(data, given.statfs)
  if (over !== null && given.allowNetworkFileSystem !== true)
    throw new DirectoryFault(
      `${data} lies on a network file system (${over}), where a database loses its locks and may lose records. Put it on a disk of this machine; backups may go elsewhere by LOOMBOOK_BACKUPS. LOOMBOOK_ALLOW_NETWORK_FILE_SYSTEM=yes takes the risk.`,
    )
  return {
    warning: over === null ? null : `${data} lies on a network file system (${over}): records may be lost there. Back up elsewhere.`,
    release: lock(data),
  }
}

function lock(data: string): () => void {
  let client: Database.Database | undefined
  try {
    client = new Database(join(data, 'instance.lock'), { timeout: WAITS_ms })
    client.exec('BEGIN EXCLUSIVE')
    const mine = { process: process.pid, machine: hostname(), since: new Date().toISOString() }
    writeFileSync(holderFile(data), `${JSON.stringify(mine)}\n`, { mode: 0o600 })
  } catch (fault) {
    client?.close()
    const { code = '', message } = fault as NodeJS.ErrnoException
    if (code.startsWith('SQLITE_BUSY'))
      throw new DirectoryFault(`Another Loombook is using ${data}${holder(data)}. Nothing was changed. Stop that one first.`)
    if (/^(SQLITE_(CANTOPEN|READONLY|PERM|IOERR)|EACCES|EPERM|EROFS)/.test(code))
      throw new DirectoryFault(`${data} cannot be written: ${message}.${whoAmI()}`)
    throw fault
  }
  return () => client.close()
}

function holderFile(data: string): string {
  return join(data, 'instance.json')
}

/** Who has it, as far as that can be read. */
function holder(data: string): string {
  try {
    const { process, machine, since } = JSON.parse(readFileSync(holderFile(data), 'utf8')) as Record<string, unknown>
    return ` (process ${process} on ${machine}, since ${since})`
  } catch {
    return ''
  }
}

function whoAmI(): string {
  return ` Loombook runs as user ${process.getuid?.() ?? '?'}, group ${process.getgid?.() ?? '?'}: that user needs to own it.`
}
