import type { FastifyInstance } from 'fastify'
import { tokensOf } from '../../records/api-tokens.ts'
import { listBackups } from '../../records/backup.ts'
import { feedsOf } from '../../records/feeds.ts'
import { jobsOf } from '../../records/jobs.ts'
import { unready } from '../../records/readiness.ts'
import { readOnlyBecause } from '../../records/sanity.ts'
import { securityEventsOf } from '../../records/security-log.ts'
import { sessionsOfAll } from '../../records/sessions-of-all.ts'
import { standingJobs } from '../../records/standing-jobs.ts'
import { storageOf } from '../../records/storage.ts'
import { webhooksOf } from '../../records/webhooks.ts'
import { view } from './view.ts'

/** More than anybody counts. */
const MOST_events = 1000

export function register(app: FastifyInstance): void {
  const jobs = standingJobs({ db: app.db, clock: app.clock, data: app.config?.data, backups: app.backups })

  app.get('/operations', { config: { needs: 'owner' } }, async (request, reply) => {
    const { actor } = request
    const facts = view({
      storage: await storageOf(app.db, app.config.data),
      backups: await listBackups(app.backups),
      jobs: jobs.map((job) => ({ job, last: jobsOf(app.db).find((one) => one.name === job.name) })),
      sessions: sessionsOfAll(app.db, actor),
      tokens: tokensOf(app.db, app.clock, actor).filter((one) => one.state === 'open'),
      feeds: feedsOf(app.db, actor),
      webhooks: webhooksOf(app.db, actor),
      events: securityEventsOf(app.db, actor, { limit: MOST_events }),
      troubles: [readOnlyBecause(app.db), await unready(app.db, app.config.data)].filter((one) => one !== null),
      now: app.clock.now(),
      timeZone: app.config.timeZone,
    })
    return reply.page('operations/show', facts, {
      title: 'How the server is doing',
      section: 'settings',
      trail: [{ href: '/settings', label: 'Settings' }],
    })
  })
}
