/**
 * Commits small rows in a database of its own and tells what the kernel counted meanwhile: under the settings in force, then under NORMAL, then
 * under the settings in force again. Arguments: a folder, the number of rows. One line of JSON.
 */
import { fsyncSync, mkdtempSync, openSync, rmSync, writeSync } from 'node:fs'
import { join } from 'node:path'
import { closeDatabase, openDatabase, settingsOf } from '../../server/records/database.ts'
import { openBook } from '../records/book.ts'

const [folder = '', count = ''] = process.argv.slice(2)
const own = mkdtempSync(join(folder, 'commits-'))
const file = join(own, 'loombook.sqlite')
// Opened twice: the first time it is new, and only an existing file is opened with this build's own default.
closeDatabase(openDatabase(file))
const book = openBook(file)

/** Times that this process waited for something outside of it (getrusage, ru_nvcsw): a flush to a disk is such a wait. */
const waits = (work: () => void): number => {
  const before = process.resourceUsage().voluntaryContextSwitches
  work()
  return process.resourceUsage().voluntaryContextSwitches - before
}
// Of next to nothing, so that no thread that collects garbage is waited for meanwhile.
const insert = book.db.$client.prepare('INSERT INTO settings VALUES (?, ?, ?) ON CONFLICT DO UPDATE SET value = excluded.value')
const commits = () => {
  for (let n = 0; n < Number(count); n += 1) insert.run(book.actor.householdId, 'counted', String(n))
}
const plain = openSync(join(own, 'plain'), 'w')
const flush = () => {
  for (let n = 0; n < Number(count); n += 1) {
    writeSync(plain, 'x')
    fsyncSync(plain)
  }
}
/** Marks in the list of system calls between what is counted. */
const mark = (name: string) => {
  try {
    openSync(join(own, `mark-${name}`), 'r')
  } catch {}
}

commits()
const told = { flushes: waits(flush), synchronous: settingsOf(book.db.$client).synchronous, full: 0, normal: 0, fullAgain: 0 }
mark('full')
told.full = waits(commits)
mark('normal')
book.db.$client.pragma('synchronous = NORMAL')
told.normal = waits(commits)
book.db.$client.pragma('synchronous = FULL')
mark('full-again')
told.fullAgain = waits(commits)
mark('end')
process.stdout.write(`${JSON.stringify(told)}\n`)
closeDatabase(book.db)
rmSync(own, { recursive: true })
