/** `npm run archive -- out.zip` writes everything of the data directory as an archive; `-- --import in.zip` takes one in. For when the server is not running. */
import { existsSync } from 'node:fs'
import { join } from 'node:path'
import { readConfig } from '../config.ts'
import { importArchive } from '../records/archive-import.ts'
import { writeArchive } from '../records/archive-write.ts'
import { systemClock } from '../records/clock.ts'
import { takeDirectory } from '../records/data-directory.ts'
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
const { config } = read
const { data } = config
process.exitCode = await run(path).catch((fault: unknown) => {
  process.stderr.write(`${fault instanceof Error ? fault.message : 'unknown reason'}\n`)
  return 1
})

async function run(path: string): Promise<number> {
  const file = join(data, 'loombook.sqlite')
  if (!existsSync(file)) return refuse(`There are no records in ${data}.`)
  if (isImport && !existsSync(path)) return refuse(`There is no file ${path}.`)
  if (!isImport && existsSync(path)) return refuse(`${path} is there already: it is left as it is.`)
  const taken = await takeDirectory(data, config)
  const db = openDatabase(file)
  try {
    const [owner] = ownersOf(db)
    if (!owner) return refuse('There is no owner yet: start Loombook once and make the first account.')
    if (isImport) {
      const taken = await importArchive(db, systemClock, owner, { data, path })
      if (!taken.ok) return refuse(taken.refusals.map((one) => one.sentence).join('\n'))
      process.stdout.write(`${JSON.stringify(taken.value, null, 1)}\n`)
      return 0
    }
    const manifest = await writeArchive(db, systemClock, owner, { data, to: path })
    process.stdout.write(`${path}: ${Object.keys(manifest.files).length} files\n`)
    for (const name of manifest.missing) process.stderr.write(`Not in it, since it is gone or damaged: ${name}\n`)
    return 0
  } finally {
    closeDatabase(db)
    taken.release()
  }
}

function refuse(says: string): number {
  process.stderr.write(`${says}\n`)
  return 2
}
