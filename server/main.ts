/** Reads the configuration, opens the database, listens, closes. */
import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import { buildApp } from './app.ts'
import { readConfig } from './config.ts'
import { systemClock } from './records/clock.ts'
import { closeDatabase, openDatabase } from './records/database.ts'
import { sweepTemporary } from './records/photo-files.ts'
import { deliverDue, queueDue } from './records/webhooks.ts'

/** How often what is waiting for other machines is sent. */
const ROUND_ms = 30_000

const read = readConfig(process.env)
if (!read.ok) {
  process.stderr.write(`Loombook cannot start:\n${read.faults.map((fault) => `  ${fault}`).join('\n')}\n`)
  process.exit(2)
}
const { config } = read
mkdirSync(config.data, { recursive: true, mode: 0o700 })
const db = openDatabase(join(config.data, 'loombook.sqlite'))
await sweepTemporary(config.data, systemClock.now())
const app = await buildApp({ db, clock: systemClock, config })
const address = await app.listen({ host: config.host, port: config.port })
process.stdout.write(`Loombook is open at ${address}\nRecords are kept in ${config.data}\n`)
if (app.setUpCode !== null) process.stdout.write(`To set it up from another machine, the one-time code is ${app.setUpCode}\n`)
const post = async () => {
  queueDue(db, systemClock, config)
  await deliverDue(db, systemClock, { send: app.outbound })
}
const rounds = setInterval(() => post().catch((fault) => app.log.error(fault)), ROUND_ms)
for (const signal of ['SIGINT', 'SIGTERM'] as const) {
  process.once(signal, async () => {
    clearInterval(rounds)
    await app.close()
    closeDatabase(db)
    process.exit(0)
  })
}
