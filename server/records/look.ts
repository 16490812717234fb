/** The nightly look through all that is kept: rows against their digests, the file's own structure, and every photo against its hash. */
import { lstat, mkdir, readdir, rename } from 'node:fs/promises'
import { dirname, join, relative } from 'node:path'
import Database from 'better-sqlite3'
import { photoFault, photosNamed } from './backup.ts'
import { damageWords, isDamage } from './damage.ts'
import { soundness } from './database-file.ts'
import { type Files, realFiles } from './files.ts'
import { photoName } from './photo-path.ts'

export type Seen = {
  /** what is wrong with the records: while there is any, nothing is written */
  readonly records: readonly string[]
  /** photos that are missing or altered, each by name */
  readonly photos: readonly string[]
  /** files that no record names, put into quarantine/ */
  readonly moved: number
}

const ORPHAN_ms = 24 * 3_600_000

/**
 * Looks through the database of a file, by a connection of its own and as of one moment, or of one that is given; then through the photos.
 * Long work, and the first part of it is one piece: where others wait it is done by another process (night-processes.ts).
 */
export async function lookThrough(
  from: string | Database.Database,
  given: { readonly data: string; readonly now: Date; readonly files?: Files },
): Promise<Seen> {
  const { data, now, files = realFiles } = given
  const { records, named } = typeof from === 'string' ? lookIntoFile(from) : lookInto(from)
  // Which files are named is not known where records are damaged: none is moved then.
  if (records.length > 0) return { records, photos: [], moved: 0 }
  const photos: string[] = []
  for (const photo of named) {
    const fault = await photoFault(data, photo, files)
    if (fault) photos.push(fault)
  }
  return { records, photos, moved: await moveOrphans({ data, named: new Set(named.map(({ name }) => name)), now }) }
}

type Looked = { readonly records: readonly string[]; readonly named: readonly Parameters<typeof photoFault>[1][] }

function lookIntoFile(file: string): Looked {
  let reader: Database.Database | undefined
  try {
    reader = new Database(file, { readonly: true, fileMustExist: true })
    reader.pragma('cell_size_check = ON')
    reader.exec('BEGIN')
    return lookInto(reader)
  } catch (fault) {
    if (!isDamage(fault)) throw fault
    return { records: [damageWords(fault)], named: [] }
  } finally {
    reader?.close()
  }
}

function lookInto(client: Database.Database): Looked {
  const named = () => photosNamed(client).map(({ sha256, type, bytes }) => ({ name: photoName({ sha256, type }), sha256, bytes }))
  const records = soundness(client)
  return { records, named: records.length > 0 ? [] : named() }
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
