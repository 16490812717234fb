/** Stands at the door while the database cannot be opened: says what is damaged and leads back to a good backup. Nothing else is answered. */
import { randomBytes, timingSafeEqual } from 'node:crypto'
import type { IncomingMessage } from 'node:http'
import { join } from 'node:path'
import fastifyCookie from '@fastify/cookie'
import fastifyFormbody from '@fastify/formbody'
import fastifyStatic from '@fastify/static'
import fastify, { type FastifyInstance, type FastifyReply } from 'fastify'
import { backupsOf, type Config } from './config.ts'
import { shutView } from './pages/rescue/shut-view.ts'
import { listBackups } from './records/backup.ts'
import type { Clock } from './records/clock.ts'
import { restoreBackup } from './records/restore.ts'
import { basePaths, withoutBase } from './web/base-path.ts'
import { FormReader } from './web/form.ts'
import { headers } from './web/headers.ts'
import { views } from './web/views.ts'
import './decorations.ts'

/** Who guesses at the code is shut out after so many tries, until the next start. */
const MOST_tries = 20
/** Time for the answer to be on its way before the house is shut for a moment. */
const RESTART_ms = 300

/** `says` is what is damaged. Nobody can be signed in, so the code that the log holds is asked for instead. */
export async function buildRescue(given: {
  readonly says: string
  readonly clock: Clock
  readonly config: Config
  readonly restart: () => void
}): Promise<{ readonly app: FastifyInstance; readonly code: string }> {
  const { says, clock, config, restart } = given
  const code = randomBytes(5).toString('hex')
  let tries = 0
  const { basePath = '' } = config
  const app = fastify({
    logger: false,
    rewriteUrl: (raw) => withoutBase(raw as IncomingMessage, basePath),
    bodyLimit: 64 * 1024,
    requestTimeout: 60_000,
  })
  app.decorate('clock', clock)
  app.decorate('config', config)
  app.decorateRequest('signedIn', false)
  app.decorateRequest('formToken', '')
  // Nothing is kept of a page here.
  app.decorateReply('filled', (text: string) => text)
  await app.register(headers)
  await app.register(fastifyCookie)
  await app.register(basePaths, { basePath })
  await app.register(fastifyFormbody)
  await app.register(fastifyStatic, { root: join(import.meta.dirname, '..', 'static'), prefix: '/static/', maxAge: '1h' })
  await app.register(views, { folder: join(import.meta.dirname, '..', 'views') })
  const show = async (reply: FastifyReply, answer: { readonly faults: readonly string[]; readonly status: number }) => {
    const facts = shutView({ says, backups: await listBackups(backupsOf(config)), timeZone: config.timeZone, ...answer })
    return reply.page('rescue/shut', facts, { title: 'The records are damaged', status: answer.status })
  }

  app.get('/healthz', async (_request, reply) => reply.type('text/plain; charset=utf-8').send('ok\n'))
  app.post('/rescue', async (request, reply) => {
    const form = new FormReader(request.body)
    if (tries >= MOST_tries)
      return show(reply, { faults: ['Too many tries. Start Loombook again: a new code will stand in its log.'], status: 429 })
    if (!isSame(form.typed('code').trim(), code)) {
      tries += 1
      return show(reply, { faults: ['That is not the one-time code in the log.'], status: 422 })
    }
    const backup = (await listBackups(backupsOf(config))).find(({ name }) => name === form.typed('backup'))
    if (!backup) return show(reply, { faults: ['Choose the backup to go back to.'], status: 422 })
    // The damaged files cannot be backed up: the swap puts them aside whole.
    const done = await restoreBackup({ from: backup.folder, data: config.data, askedAt: clock.now().toISOString(), present: null })
    if (!done.ok) return show(reply, { faults: ['This backup is not whole. Choose another.', ...done.faults], status: 422 })
    setTimeout(restart, RESTART_ms)
    return reply.page('settings/restored', { restarts: true }, { title: 'The backup is being put in place' })
  })
  app.setNotFoundHandler(async (_request, reply) => show(reply, { faults: [], status: 503 }))
  app.setErrorHandler(async (fault: Error & { statusCode?: number }, _request, reply) => {
    const status = fault.statusCode ?? 500
    return show(reply, { faults: [status < 500 ? fault.message : 'That did not work; nothing was changed.'], status })
  })
  return { app, code }
}

function isSame(given: string, code: string): boolean {
  const [one, other] = [Buffer.from(given), Buffer.from(code)]
  return one.length === other.length && timingSafeEqual(one, other)
}
