/** Opens a database, whose migrations run, and kills itself within one of them: after so many of its letters. Arguments: file, the migration's name, letters. */
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import Database from 'better-sqlite3'
import { openDatabase } from '../../server/records/database.ts'

const [file = '', name = '', letters = ''] = process.argv.slice(2)
const sql = readFileSync(join('migrations', name), 'utf8')
const { exec } = Database.prototype
Database.prototype.exec = function (given) {
  if (given !== sql) return exec.call(this, given)
  exec.call(this, sql.slice(0, Number(letters)))
  process.kill(process.pid, 'SIGKILL')
  return this
}
openDatabase(file, join(process.cwd(), 'migrations'))
process.stdout.write('It was not killed.\n')
