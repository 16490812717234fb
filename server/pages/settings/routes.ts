import { randomBytes } from 'node:crypto'
import { join } from 'node:path'
import { setTimeout as wait } from 'node:timers/promises'
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { type Backup, listBackups } from '../../records/backup.ts'
import { logBytes } from '../../records/database.ts'
import { type Job, jobsOf, runNow } from '../../records/jobs.ts'
import { bringPhotosBack, restoreBackup, tryBackup } from '../../records/restore.ts'
import { readOnlyBecause } from '../../records/sanity.ts'
import { standingJobs } from '../../records/standing-jobs.ts'
import { NotFound } from '../../web/error-pages.ts'
import type { ShownFault } from '../shared/faults.ts'
import { pressMark, pressSays } from '../shared/press.ts'
import { backupView, view } from './view.ts'

const PAGE = { title: 'Settings', section: 'settings' } as const
const OWNERS = { config: { needs: 'owner', evenReadOnly: true } } as const
const CONFIRMED = { config: { needs: 'owner', evenReadOnly: true, confirmAt: `/settings?${pressMark('confirmed')}` } } as const
/** Well within the minute after which a proxy commonly gives up (common practice). */
const WAITED_FOR_ms = 20_000
const GOES_ON = 'It is under way and goes on by itself. This page, opened again, says how it ended.'
const NOT_ENDED = 'It is under way already, or a stop of the server cut it off: then it is begun anew at the next start.'
/** Time for the answer to be on its way before the house is shut for a moment. */
const RESTART_ms = 300

export function register(app: FastifyInstance): void {
  const { backups } = app
  const jobs = standingJobs({ db: app.db, clock: app.clock, data: app.config.data, backups })
  const show = async (
    reply: FastifyReply,
    given: { readonly says: string; readonly faults: readonly ShownFault[]; readonly status: number },
  ) => {
    const facts = view({
      backups: await listBackups(backups),
      jobs: jobs.map((job) => ({ job, last: jobsOf(app.db).find((one) => one.name === job.name) })),
      readOnly: readOnlyBecause(app.db) ?? '',
      logOfWrites_bytes: logBytes(app.db),
      now: app.clock.now(),
      timeZone: app.config.timeZone,
      ...given,
    })
    return reply.page('settings/show', facts, { ...PAGE, status: given.status })
  }
  const found = async (request: FastifyRequest): Promise<Backup> => {
    const { name } = request.params as { name: string }
    const backup = (await listBackups(backups)).find((one) => one.name === name)
    if (!backup) throw new NotFound('There is no such backup.')
    return backup
  }
  const run = (name: string) => async (_request: FastifyRequest, reply: FastifyReply) => {
    const running = runNow(app.db, app.clock, jobs.find((one) => one.name === name) as Job)
    const isBegun = await Promise.race([running, wait(WAITED_FOR_ms, null, { ref: false })])
    if (isBegun === null) return show(reply, { says: GOES_ON, faults: [], status: 202 })
    const last = jobsOf(app.db).find((one) => one.name === name)
    if (isBegun && last?.result === 'done') return show(reply, { says: last.says, faults: [], status: 200 })
    const says = last?.result === 'failed' ? last.says : NOT_ENDED
    return show(reply, { says: '', faults: [{ field: '', label: '', says, link: '' }], status: isBegun ? 500 : 409 })
  }

  app.get('/settings', { config: { needs: 'owner' } }, async (request, reply) =>
    show(reply, { says: pressSays(request.query), faults: [], status: 200 }),
  )
  app.post('/settings/backups', OWNERS, run('backup'))
  app.post('/settings/checks', OWNERS, run('sanity'))

  app.post('/settings/photos', OWNERS, async (_request, reply) => {
    const { brought, lost } = await bringPhotosBack({ db: app.db, data: app.config.data, backups })
    const says = `${brought} photos and papers were brought back from backups.`
    const faults = lost.map((name) => ({ field: '', label: '', says: `No backup here has ${name} whole.`, link: '' }))
    return show(reply, { says, faults, status: 200 })
  })

  app.get('/settings/backups/:name', { config: { needs: 'owner' } }, async (request, reply) => {
    const facts = backupView(await found(request), { says: '', faults: [], timeZone: app.config.timeZone })
    return reply.page('settings/backup', facts, { ...PAGE, title: 'A backup', trail: [{ href: '/settings', label: 'Settings' }] })
  })

  app.post('/settings/backups/:name/trials', OWNERS, async (request, reply) => {
    const backup = await found(request)
    const { faults, rows, photos } = await tryBackup(backup.folder, join(app.config.data, 'tmp', `trial-${randomBytes(6).toString('hex')}`))
    const says =
      faults.length === 0
        ? `It can be restored: ${rows.entries ?? 0} entries, ${rows.parts ?? 0} parts, ${photos} photos and papers came back whole.`
        : ''
    const facts = backupView(backup, { says, faults, timeZone: app.config.timeZone })
    return reply.page('settings/backup', facts, { ...PAGE, title: 'A backup', trail: [{ href: '/settings', label: 'Settings' }] })
  })

  app.post('/settings/backups/:name/restorations', CONFIRMED, async (request, reply) => {
    const backup = await found(request)
    const { db, clock } = app
    const present = readOnlyBecause(db) === null ? { db, clock, data: app.config.data, folder: backups } : null
    const done = await restoreBackup({ from: backup.folder, data: app.config.data, askedAt: clock.now().toISOString(), present })
    if (!done.ok) {
      const facts = backupView(backup, { says: '', faults: done.faults, timeZone: app.config.timeZone })
      return reply.page('settings/backup', facts, { ...PAGE, title: 'A backup', status: 422 })
    }
    if (app.restart) setTimeout(app.restart, RESTART_ms)
    return reply.page('settings/restored', { restarts: app.restart !== null }, { ...PAGE, title: 'The backup is being put in place' })
  })
}
