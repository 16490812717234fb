/**
 * The data directory, taken for one Loombook: two would fight over photos, jobs and backups even where the database forbids the worst.
 * What cannot be right is refused before anything is written.
 */
import { readFileSync, writeFileSync } from 'node:fs'
import { hostname } from 'node:os'
import { join } from 'node:path'
import Database from 'better-sqlite3'
import { isTold, placeOf, type System } from './file-system.ts'
import { makeFolder, whoAmI } from './folders.ts'

/** Why a directory cannot be used, in words for the owner. */
export class DirectoryFault extends Error {}

/** A second start may overlap the end of the one before. */
const WAITS_ms = 1500

export type Taken = { readonly warnings: readonly string[]; readonly release: () => void }

/** Takes it until it is let go or the process ends, however that happens: the lock is the system's own, on a file that holds nothing. */
export async function takeDirectory(
  data: string,
  given: { readonly allowNetworkFileSystem?: boolean | undefined; readonly system?: Partial<System> } = {},
): Promise<Taken> {
  const over = await overNetwork(data, given.system)
  const [first] = over
  if (first && given.allowNetworkFileSystem !== true)
    throw new DirectoryFault(
      `${first.path} lies on a network file system (${first.name}), where a database loses its locks and may lose records. Put it on a disk of this machine; backups may go elsewhere by LOOMBOOK_BACKUPS. LOOMBOOK_ALLOW_NETWORK_FILE_SYSTEM=yes takes the risk.`,
    )
  try {
    makeFolder(data)
  } catch (fault) {
    throw cannotBeMade(data, fault)
  }
  const warnings = over.map(
    ({ path, name }) => `${path} lies on a network file system (${name}): records may be lost there. Back up elsewhere.`,
  )
  if (!isTold(given.system))
    warnings.push(
      `Whether ${data} lies on a network file system is not told by this kind of system: see to it that its disk is this machine’s own.`,
    )
  return { warnings, release: lock(data) }
}

/** What of the records would be kept over a network: the directory, or what was put elsewhere by a link or a mount of its own. */
async function overNetwork(data: string, system?: Partial<System>): Promise<readonly { readonly path: string; readonly name: string }[]> {
  const found: { path: string; name: string }[] = []
  try {
    for (const path of [data, join(data, 'loombook.sqlite'), join(data, 'photos')]) {
      const { over } = await placeOf(path, system)
      // Said once for the directory, and not again for what lies in it.
      if (over !== null && !(found[0]?.path === data && found[0].name === over)) found.push({ path, name: over })
    }
  } catch (fault) {
    throw cannotBeMade(data, fault)
  }
  return found
}

function cannotBeMade(data: string, fault: unknown): DirectoryFault {
  return new DirectoryFault(`${data} cannot be made: ${(fault as Error).message}.${whoAmI()}`)
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
