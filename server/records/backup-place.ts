/** The place for backups, looked at when the server starts: a backup that fails every night is found out too late. */
import { mkdtempSync, rmdirSync } from 'node:fs'
import { join } from 'node:path'
import { makeFolder, whoAmI, whyNotWritable } from './folders.ts'

/** What passes or is the disk's own affair: the setting is right, so the journal opens and the owner is told. */
const MAY_PASS = new Set(['ENOSPC', 'EDQUOT', 'EIO', 'ESTALE', 'ETIMEDOUT', 'EHOSTDOWN', 'EMFILE', 'ENFILE'])

/** Why backups cannot be kept there, as far as looking tells, nothing written; null where nothing speaks against it. */
export function backupPlaceFault(folder: string): string | null {
  const why = whyNotWritable(folder)
  return why === null ? null : wordsOf(folder, why)
}

export type Tried = { readonly fault: string | null; readonly warning: string | null }

/** Makes the folder where it is missing, and tries whether a backup could be begun in it. */
export function tryBackupPlace(folder: string, make: (folder: string) => void = makeAndTry): Tried {
  try {
    make(folder)
    return { fault: null, warning: null }
  } catch (fault) {
    const { code = '', message } = fault as NodeJS.ErrnoException
    if (!MAY_PASS.has(code)) return { fault: wordsOf(folder, message), warning: null }
    return { fault: null, warning: `Nothing can be written to the folder for backups, ${folder}, at the moment: ${message}.` }
  }
}

function makeAndTry(folder: string): void {
  makeFolder(folder)
  // As a backup begins; one that a crash leaves is swept with unfinished backups.
  rmdirSync(mkdtempSync(join(folder, '.making-')))
}

function wordsOf(folder: string, why: string): string {
  return `${folder} cannot be used for backups: ${why}.${/^(EACCES|EPERM|EROFS)/.test(why) ? whoAmI() : ''}`
}
