/** Reads the configuration, opens the database, listens, closes. */
import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import { buildApp } from './app.ts'
import { readConfig } from './config.ts'
import { systemClock } from './records/clock.ts'
import { closeDatabase, openDatabase } from './records/database.ts'
import { sweepTemporary } from './records/photo-files.ts'
import { fillSearch } from './records/search-rows.ts'

const read = readConfig(process.env)
if (!read.ok) {
  process.stderr.write(`Loombook cannot start:\n${read.faults.map((fault) => `  ${fault}`).join('\n')}\n`)
  process.exit(2)
}
const { config } = read
mkdirSync(config.data, { recursive: true, mode: 0o700 })
const db = openDatabase(join(config.data, 'loombook.sqlite'))
await sweepTemporary(config.data, systemClock.now())
const found = fillSearch(db)
if (found > 0) process.stdout.write(`${found} records can be searched now that could not before\n`)
const app = await buildApp({ db, clock: systemClock, config })
const address = await app.listen({ host: config.host, port: config.port })
process.stdout.write(`Loombook is open at ${address}\nRecords are kept in ${config.data}\n`)
if (app.setUpCode !== null) process.stdout.write(`To set it up from another machine, the one-time code is ${app.setUpCode}\n`)
for (const signal of ['SIGINT', 'SIGTERM'] as const) {
  process.once(signal, async () => {
    await app.close()
    closeDatabase(db)
    process.exit(0)
  })
}
