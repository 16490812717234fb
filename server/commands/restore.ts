/** `npm run restore` lists the backups; `npm run restore -- NAME` puts one in place at the next start. For when the server is not running. */
import { join } from 'node:path'
import { backupsOf, readConfig } from '../config.ts'
import { listBackups, megabytes } from '../records/backup.ts'
import { takeDirectory } from '../records/data-directory.ts'
import { finishRestore, restoreBackup } from '../records/restore.ts'

const read = readConfig(process.env)
if (!read.ok) {
  process.stderr.write(`${read.faults.join('\n')}\n`)
  process.exit(2)
}
const backups = backupsOf(read.config)
const [name] = process.argv.slice(2)
const all = await listBackups(backups)
if (name === undefined) {
  for (const one of all)
    process.stdout.write(`${one.name}  ${megabytes(one.bytes)}  ${one.contents.rows.entries ?? 0} entries  ${one.contents.photos} photos\n`)
  process.stdout.write(all.length === 0 ? `There is no backup in ${backups}.\n` : 'npm run restore -- NAME puts one of them in place.\n')
} else {
  const from = all.find((one) => one.name === name)?.folder ?? (name.includes('/') ? name : join(backups, name))
  const taken = await takeDirectory(read.config.data, read.config).catch((fault: Error) => {
    process.stderr.write(`${fault.message}\n`)
    process.exit(3)
  })
  // The files that are there now are put aside by the swap itself: nothing is open, so they are whole.
  const done = await restoreBackup({ from, data: read.config.data, askedAt: new Date().toISOString(), present: null })
  if (!done.ok) {
    process.stderr.write(`This backup was not restored:\n${done.faults.map((fault) => `  ${fault}`).join('\n')}\n`)
    process.exit(1)
  }
  process.stdout.write(
    `${await finishRestore(read.config.data)} What was there before lies beside it in the data directory. Start Loombook.\n`,
  )
  taken.release()
}
