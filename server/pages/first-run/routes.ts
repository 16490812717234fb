import { createHash, timingSafeEqual } from 'node:crypto'
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { listBackups } from '../../records/backup.ts'
import { loadDemo } from '../../records/demo/index.ts'
import { createOwner, isFirstRun, signIn } from '../../records/people.ts'
import { restoreBackup } from '../../records/restore.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { cameFrom } from '../../web/session.ts'
import { isFromHere } from '../../web/site.ts'
import { takeIn } from '../shared/entered.ts'
import { choicesOf } from '../shared/backup-words.ts'
import { formFaults, refusalFaults, type ShownFault } from '../shared/faults.ts'

/** Time for the answer to be on its way before the house is shut for a moment. */
const RESTART_ms = 300

type Shown = { readonly faults?: readonly ShownFault[]; readonly status?: number; readonly code?: string }

export function register(app: FastifyInstance): void {
  const needsCode = (request: FastifyRequest) => !isFromHere(request)
  /** Guesses at the code are counted, from everywhere together. */
  const checkCode = (request: FastifyRequest, reply: FastifyReply, form: FormReader) => {
    if (!needsCode(request)) return
    const attempt = { account: 'first run', address: request.ip, device: null }
    const waits_s = app.signInLimits.begin_s(attempt)
    if (waits_s > 0) {
      reply.header('retry-after', String(waits_s))
      form.fault('code', `Too many tries. Wait ${Math.ceil(waits_s / 60)} minutes, or set it up on the machine itself.`)
    } else if (isSame(form.text('code'), app.setUpCode ?? '')) app.signInLimits.succeeded(attempt)
    else form.fault('code', 'That is not the one-time code in the log.')
  }

  app.get('/first-run', async (request, reply) => {
    if (!isFirstRun(app.db)) throw new NotFound()
    return reply.page(
      'first-run/show',
      { faults: [], name: '', code: '', needsCode: needsCode(request), backups: await backupsFor(request) },
      { title: 'Set up Loombook' },
    )
  })

  /** What lies on the server, and since when, is told to nobody from elsewhere who has not shown the code. */
  const backupsFor = async (request: FastifyRequest) =>
    needsCode(request) ? [] : choicesOf(await listBackups(app.backups), app.config.timeZone)
  /** `code` is the right one, where it was shown: it goes along to the press that restores. */
  const showBackups = async (request: FastifyRequest, reply: FastifyReply, given: Shown) => {
    const { faults = [], status = 200, code = '' } = given
    const isTold = !needsCode(request) || code !== ''
    const told = isTold
      ? { folder: app.backups, backups: choicesOf(await listBackups(app.backups), app.config.timeZone) }
      : { folder: '', backups: [] }
    return reply.page(
      'first-run/backups',
      { faults, isTold, ...told, needsCode: needsCode(request), code },
      { title: 'Restore a backup', status, trail: [{ href: '/first-run', label: 'Set up Loombook' }] },
    )
  }
  app.get('/first-run/backups', async (request, reply) => {
    if (!isFirstRun(app.db)) throw new NotFound()
    return showBackups(request, reply, {})
  })
  /** Nothing is here yet that could be kept, and nobody who could be asked for a password. */
  app.post('/first-run/restorations', async (request, reply) => {
    if (!isFirstRun(app.db)) throw new NotFound()
    const form = new FormReader(request.body)
    checkCode(request, reply, form)
    if (form.faults.length > 0)
      return showBackups(request, reply, { faults: formFaults(form.faults), status: reply.hasHeader('retry-after') ? 429 : 422 })
    const code = needsCode(request) ? form.text('code') : ''
    // The code by itself asks what there is to choose from.
    if (code !== '' && !('backup' in (request.body as object))) return showBackups(request, reply, { code })
    const backup = (await listBackups(app.backups)).find(({ name }) => name === form.typed('backup'))
    if (!backup) {
      form.fault('backup', 'Choose the backup to restore.')
      return showBackups(request, reply, { faults: formFaults(form.faults), status: 422, code })
    }
    const { data } = app.config
    const done = await restoreBackup({ from: backup.folder, data, askedAt: app.clock.now().toISOString(), present: null })
    if (!done.ok) {
      const faults = ['This backup is not whole, so it was left alone. Choose another.', ...done.faults]
      return showBackups(request, reply, {
        faults: faults.map((says) => ({ field: '', label: '', says, link: '' })),
        status: 422,
        code,
      })
    }
    if (app.restart) setTimeout(app.restart, RESTART_ms)
    return reply.page('settings/restored', { restarts: app.restart !== null }, { title: 'The backup is being put in place' })
  })

  app.post('/first-run', async (request, reply) => {
    if (!isFirstRun(app.db)) throw new NotFound()
    const form = new FormReader(request.body)
    const name = form.text('name', { max: 200 })
    const password = form.typed('password')
    checkCode(request, reply, form)
    const backups = await backupsFor(request)
    const again = (faults: readonly object[]) =>
      reply.page(
        'first-run/show',
        { faults, name, code: form.typed('code'), needsCode: needsCode(request), backups },
        { title: 'Set up Loombook', status: reply.hasHeader('retry-after') ? 429 : 422 },
      )
    if (form.faults.length > 0) return again(formFaults(form.faults))
    const owner = createOwner(app.db, app.clock, { name, password })
    if (!owner.ok) return again(refusalFaults(owner.refusals))
    if (form.typed('start') === 'demonstration') loadDemo(app.db, app.clock, owner.value)
    const signed = await signIn(app.db, app.clock, { name, password, from: cameFrom(request) })
    if (signed.ok && signed.value.state === 'in') takeIn(reply, signed.value)
    return reply.redirect('/', 303)
  })
}

function isSame(given: string, right: string): boolean {
  const [one, other] = [given, right].map((text) => createHash('sha256').update(text).digest()) as [Buffer, Buffer]
  return right !== '' && timingSafeEqual(one, other)
}
