import type { FastifyInstance } from 'fastify'
import { isPasswordOf } from '../../records/people.ts'
import { confirmSession } from '../../records/sessions.ts'
import { FormReader } from '../../web/form.ts'
import { confirming, noteRefused } from '../shared/confirming.ts'
import { localPath } from '../../web/session.ts'

const PAGE = { title: 'Your password once more', section: 'settings' } as const

export function register(app: FastifyInstance): void {
  app.get('/confirm', async (request, reply) => {
    const { next } = request.query as Record<string, unknown>
    return reply.page('confirm/show', { faults: [], next: localPath(next) }, PAGE)
  })

  app.post('/confirm', { config: { needs: 'viewer' } }, async (request, reply) => {
    const form = new FormReader(request.body)
    const next = localPath(form.typed('next'))
    const attempt = confirming(request)
    const waits_s = app.signInLimits.begin_s(attempt)
    if (waits_s === 0 && (await isPasswordOf(app.db, request.actor, form.typed('password')))) {
      app.signInLimits.succeeded(attempt)
      if (request.sessionToken !== null) confirmSession(app.db, app.clock, request.sessionToken)
      return reply.redirect(next, 303)
    }
    noteRefused(app, request)
    if (waits_s > 0) reply.header('retry-after', String(waits_s))
    const says = waits_s === 0 ? 'That is not your password.' : `Too many tries. Wait ${Math.ceil(waits_s / 60)} minutes.`
    const faults = [{ field: 'password', label: 'Password', says, link: '' }]
    return reply.page('confirm/show', { faults, next }, { ...PAGE, status: waits_s === 0 ? 422 : 429 })
  })
}
