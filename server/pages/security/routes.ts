import type { FastifyInstance } from 'fastify'
import { securityEventsOf } from '../../records/security-log.ts'
import { view } from './view.ts'

const SHOWN = 50

export function register(app: FastifyInstance): void {
  app.get('/security', { config: { needs: 'owner' } }, async (request, reply) => {
    const { before } = request.query as Record<string, unknown>
    const from = typeof before === 'string' && /^[0-9a-f-]{36}$/.test(before) ? before : undefined
    const events = securityEventsOf(app.db, request.actor, { limit: SHOWN + 1, ...(from === undefined ? {} : { before: from }) })
    const facts = view({ events: events.slice(0, SHOWN), hasMore: events.length > SHOWN, timeZone: app.config.timeZone })
    return reply.page('security/show', facts, {
      title: 'What concerned security',
      section: 'settings',
      trail: [{ href: '/people', label: 'People' }],
    })
  })
}
