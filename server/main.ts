/** Reads the configuration, takes the data directory, opens the database, listens, does what is due, closes. */
import { join } from 'node:path'
import { setTimeout } from 'node:timers/promises'
import { buildApp } from './app.ts'
import { backupsOf, type Places, readConfig } from './config.ts'
import { whyNotListening, whyNotOpen } from './listening.ts'
import { alarmOf } from './records/alarms.ts'
import { removeUnfinished } from './records/backup.ts'
import { backupPlaceFault, tryBackupPlace } from './records/backup-place.ts'
import { systemClock as clock } from './records/clock.ts'
import { DirectoryFault, takeDirectory } from './records/data-directory.ts'
import { noteBeside } from './records/damage.ts'
import { closeDatabase, DamagedDatabase, type Db, foldLog, foldWhenIdle, openDatabase } from './records/database.ts'
import { runDue } from './records/jobs.ts'
import { stopNightProcesses } from './records/night-processes.ts'
import { sweepTemporary } from './records/photo-files.ts'
import { finishRestore } from './records/restore.ts'
import { lookAtStart } from './records/sanity.ts'
import { fillSearch } from './records/search-rows.ts'
import { recheckTold, standingJobs } from './records/standing-jobs.ts'
import { deliverDue, queueAlarm, queueDue } from './records/webhooks.ts'
import { buildRescue } from './rescue.ts'
import { leave, say, sayFault, warn } from './said.ts'

const EVERY_ms = 60_000
/** After the grace of the door itself: what is done beside the pages. */
const JOBS_MAY_END_ms = 1500

const read = readConfig(process.env)
for (const warning of read.warnings) warn(warning)
const here = await faultsHere(read.places)
const notHere = here.map(({ says }) => says)
if (!read.ok) leave(2, [...read.faults, ...notHere])
// A port in use may be that of the Loombook that has the directory: then that is told, and it may be on its way out.
if (here.some(({ mayPass }) => !mayPass)) leave(2, notHere)
const config = { ...read.config, logLevel: read.config.logLevel ?? (process.stderr.isTTY ? 'warn' : 'info') }
const taken = await takeDirectory(config.data, config).catch((fault: unknown) => {
  if (fault instanceof DirectoryFault) return leave(3, [fault.message])
  return cannotStart(fault)
})
for (const warning of taken.warnings) warn(warning)
const place = tryBackupPlace(backupsOf(config))
if (place.warning !== null) warn(place.warning)
if (place.fault !== null && config.backups === undefined) leave(3, [place.fault])
if (place.fault !== null) leave(2, [ofBackups(place.fault)])
const stillNotOpen = await whyNotOpen(config)
if (stillNotOpen !== null) leave(2, [stillNotOpen.says])
// Before the door is open too: a stop that comes while it starts waits until it has, then closes it as always.
let restarting: Promise<void> | null = null
let running = start().catch(cannotStart)

for (const signal of ['SIGINT', 'SIGTERM'] as const) {
  process.once(signal, async () => {
    await restarting
    await (await running).close()
    taken.release()
    process.exit(0)
  })
}

/** What the machine does not bear out of the settings. */
async function faultsHere({ host, port, backups }: Places): Promise<readonly { readonly says: string; readonly mayPass: boolean }[]> {
  const closed = host === null ? null : await whyNotOpen({ host, port })
  const unusable = backups === undefined ? null : backupPlaceFault(backups)
  return [
    ...(closed === null ? [] : [{ says: closed.says, mayPass: closed.isInUse }]),
    ...(unusable === null ? [] : [{ says: ofBackups(unusable), mayPass: false }]),
  ]
}

function ofBackups(fault: string): string {
  return `LOOMBOOK_BACKUPS: ${fault}`
}

/** Refused, or foreseen by nobody: said in the form of all the rest, with the trace that leads to it. */
function cannotStart(fault: unknown): never {
  const { syscall = '' } = fault as NodeJS.ErrnoException
  if (['listen', 'bind', 'getaddrinfo'].includes(syscall)) leave(2, [whyNotListening(fault as Error, config)])
  leave(1, [fault instanceof Error ? (fault.stack ?? fault.message) : String(fault)])
}

/** Asked for again while it is under way, it is one. */
function restart(): Promise<void> {
  restarting ??= (async () => {
    await (await running).close()
    running = start().catch(cannotStart)
    await running
    restarting = null
  })()
  return restarting
}

/** Everything from a restore that was asked for to the open door; after a restore from the pages it is done again. */
async function start(): Promise<{ readonly close: () => Promise<void> }> {
  const { data } = config
  const backups = backupsOf(config)
  say(await finishRestore(data))
  const db = openOrSay(join(data, 'loombook.sqlite'))
  if (typeof db === 'string') return rescue(db, () => void restart())
  lookAtStart(db, clock)
  await removeUnfinished(backups)
  await sweepTemporary(data, clock.now())
  const found = fillSearch(db)
  say(found > 0 ? `${found} records can be searched now that could not before` : null)
  const app = await buildApp({ db, clock, config, log: { write: (line) => process.stderr.write(line) }, restart: () => void restart() })
  const jobs = standingJobs({ db, clock, data, backups })
  const tellOthers = async () => {
    // Before what reads every journal: on a damaged file that may fail.
    queueAlarm(db, clock, alarmOf(db, clock))
    try {
      queueDue(db, clock, config)
      await recheckTold(db)
    } finally {
      await deliverDue(db, clock, { send: app.outbound })
    }
  }
  let work: Promise<unknown> = Promise.resolve()
  let isClosing = false
  const timer = setInterval(() => {
    foldWhenIdle(db)
    work = work
      .then(() => runDue(db, clock, jobs, config.timeZone))
      .then(() => (isClosing ? null : tellOthers().catch((fault) => sayFault(app.log, 'The work for webhooks failed', fault))))
  }, EVERY_ms)
  const address = await app.listen({ host: config.host, port: config.port })
  say(`Loombook is open at ${config.baseUrl ?? `${address}${config.basePath}`}`)
  say(`Records are kept in ${data}`)
  say(app.setUpCode === null ? null : `To set it up from another machine, the one-time code is ${app.setUpCode}`)
  return {
    close: async () => {
      clearInterval(timer)
      isClosing = true
      await stopNightProcesses(db)
      await app.stop()
      await Promise.race([work, setTimeout(JOBS_MAY_END_ms)])
      // A disk that does not take it is no reason not to stop: the log lies beside the file as whole as before.
      noteBeside(() => foldLog(db))
      closeDatabase(db)
    },
  }
}

/** The database, or why it is too damaged to be opened. */
function openOrSay(file: string): Db | string {
  try {
    return openDatabase(file)
  } catch (fault) {
    if (fault instanceof DamagedDatabase) return fault.message
    throw fault
  }
}

/** Until a backup is in place. */
async function rescue(says: string, restart: () => void): Promise<{ readonly close: () => Promise<void> }> {
  const { app, code } = await buildRescue({ clock, config, log: { write: (line) => process.stderr.write(line) }, restart })
  const address = await app.listen({ host: config.host, port: config.port })
  say(says)
  say(`What can be done about it is told at ${config.baseUrl ?? `${address}${config.basePath}`}; the one-time code for it is ${code}`)
  return { close: () => app.stop() }
}
