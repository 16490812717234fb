/** Stands at the door while the database cannot be opened: says that it is damaged and leads back to a good backup. Nothing else is answered. */
import { randomBytes, timingSafeEqual } from 'node:crypto'
import { join } from 'node:path'
import type { FastifyInstance, FastifyReply } from 'fastify'
import { problemOfFault, sendProblem } from './api/index.ts'
import { Problem } from './api/problem.ts'
import { backupsOf, type Config } from './config.ts'
import { type Log, openEntrance } from './entrance.ts'
import { shutView } from './pages/rescue/shut-view.ts'
import { listBackups } from './records/backup.ts'
import type { Clock } from './records/clock.ts'
import { restoreBackup } from './records/restore.ts'
import { SignInLimits } from './records/sign-in-limits.ts'
import { foreign } from './web/foreign.ts'
import { FormReader } from './web/form.ts'
import { Forbidden } from './web/guard.ts'
import { isForPrograms } from './web/session.ts'
import { views } from './web/views.ts'

/** Time for the answer to be on its way before the house is shut for a moment. */
const RESTART_ms = 300
/** There is one small form here. */
const MOST_bytes = 64 * 1024
const LONGEST_ms = 60_000

/** Nobody can be signed in, so the code that the log holds is asked for instead. */
export async function buildRescue(given: {
  readonly clock: Clock
  readonly config: Config
  readonly log?: Log
  readonly restart: () => void
}): Promise<{ readonly app: FastifyInstance; readonly code: string }> {
  const { clock, config, restart } = given
  const code = randomBytes(5).toString('hex')
  const limits = new SignInLimits(clock)
  const app = await openEntrance({
    ...{ clock, config, log: given.log },
    most_bytes: MOST_bytes,
    longest_ms: LONGEST_ms,
    newNumber: () => randomBytes(6).toString('hex'),
  })
  app.removeContentTypeParser(['application/json', 'text/plain'])
  app.decorateRequest('signedIn', false)
  app.decorateRequest('formToken', '')
  // Nothing is kept of a page here.
  app.decorateReply('filled', (text: string) => text)
  await app.register(views, { folder: join(import.meta.dirname, '..', 'views') })
  const show = async (reply: FastifyReply, answer: { readonly faults: readonly string[]; readonly status: number }) => {
    const facts = shutView({ backups: await listBackups(backupsOf(config)), timeZone: config.timeZone, ...answer })
    return reply.page('rescue/shut', facts, { title: 'The records are damaged', status: answer.status })
  }

  app.get('/healthz', async (_request, reply) => reply.type('text/plain; charset=utf-8').send('ok\n'))
  app.get('/readyz', async (_request, reply) => reply.status(503).type('text/plain; charset=utf-8').send('not ready\n'))
  app.post('/rescue', async (request, reply) => {
    const reason = foreign(request)
    if (reason !== null) {
      request.log.warn({ reason }, 'refused')
      throw new Forbidden(reason)
    }
    const form = new FormReader(request.body)
    // Guesses are counted from everywhere together, as those at the code for setting up.
    const attempt = { account: 'rescue', address: request.ip, device: null }
    const waits_s = limits.begin_s(attempt)
    if (waits_s > 0) {
      reply.header('retry-after', String(waits_s))
      const says = `Too many tries. Wait ${Math.ceil(waits_s / 60)} minutes, or start Loombook again: a new code will stand in its log.`
      return show(reply, { faults: [says], status: 429 })
    }
    if (!isSame(form.typed('code').trim(), code)) return show(reply, { faults: ['That is not the one-time code in the log.'], status: 422 })
    limits.succeeded(attempt)
    const backup = (await listBackups(backupsOf(config))).find(({ name }) => name === form.typed('backup'))
    if (!backup) return show(reply, { faults: ['Choose the backup to go back to.'], status: 422 })
    // The damaged files cannot be backed up: the swap puts them aside whole.
    const done = await restoreBackup({ from: backup.folder, data: config.data, askedAt: clock.now().toISOString(), present: null })
    if (!done.ok) return show(reply, { faults: ['This backup is not whole. Choose another.', ...done.faults], status: 422 })
    setTimeout(restart, RESTART_ms)
    return reply.page('settings/restored', { restarts: true }, { title: 'The backup is being put in place' })
  })
  app.setNotFoundHandler(async (request, reply) => {
    if (isForPrograms(request)) return sendProblem(reply, new Problem('nothing-written', SHUT))
    return show(reply, { faults: [], status: 503 })
  })
  app.setErrorHandler(async (fault: Error & { statusCode?: number; code?: string }, request, reply) => {
    const status = fault.statusCode ?? 500
    if (status >= 500) request.log.error(fault)
    if (isForPrograms(request)) return sendProblem(reply, problemOfFault(fault))
    const says = status >= 500 ? 'That did not work; nothing was changed.' : inOurWords(fault)
    return show(reply, { faults: [says], status })
  })
  return { app, code }
}

const SHUT = 'The records here cannot be opened. Nothing is shown and nothing is written until a good backup is restored.'
const SAYS: Readonly<Record<string, string>> = {
  FST_ERR_CTP_INVALID_MEDIA_TYPE: 'This is not a form. Nothing was changed.',
  FST_ERR_CTP_BODY_TOO_LARGE: 'That is more than this form holds. Nothing was changed.',
}

function inOurWords({ code, message }: Error & { code?: string }): string {
  return code?.startsWith('FST_') ? (SAYS[code] ?? 'This request cannot be read. Nothing was changed.') : message
}

function isSame(given: string, code: string): boolean {
  const [one, other] = [Buffer.from(given), Buffer.from(code)]
  return one.length === other.length && timingSafeEqual(one, other)
}
