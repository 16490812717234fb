/** `npm run archive -- out.zip` writes everything of the data directory as an archive; `-- --import in.zip` takes one in. For when the server is not running. */
import { join } from 'node:path'
import { readConfig } from '../config.ts'
import { importArchive } from '../records/archive-import.ts'
import { writeArchive } from '../records/archive-write.ts'
import { systemClock } from '../records/clock.ts'
import { closeDatabase, openDatabase } from '../records/database.ts'
import { ownersOf } from '../records/people.ts'

const given = process.argv.slice(2)
const isImport = given[0] === '--import'
const path = isImport ? given[1] : given[0]
const read = readConfig(process.env)
if (!path || !read.ok) {
  process.stderr.write(
    read.ok ? 'Usage: npm run archive -- out.zip, or npm run archive -- --import in.zip\n' : `${read.faults.join('\n')}\n`,
  )
  process.exit(2)
}
const { data } = read.config
const db = openDatabase(join(data, 'loombook.sqlite'))
const [owner] = ownersOf(db)
if (!owner) {
  process.stderr.write('There is no owner yet: start Loombook once and make the first account.\n')
  process.exit(2)
}
if (isImport) {
  const taken = await importArchive(db, systemClock, owner, { data, path })
  process.stdout.write(taken.ok ? `${JSON.stringify(taken.value, null, 1)}\n` : `${taken.refusals.map((one) => one.sentence).join('\n')}\n`)
  process.exitCode = taken.ok ? 0 : 1
} else {
  const manifest = await writeArchive(db, systemClock, owner, { data, to: path })
  process.stdout.write(`${path}: ${Object.keys(manifest.files).length} files\n`)
}
closeDatabase(db)
