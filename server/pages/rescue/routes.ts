import type { FastifyInstance } from 'fastify'
import { lastWhole } from '../../records/backup.ts'
import { damageOf } from '../../records/sanity.ts'
import { view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/rescue', { config: { needs: 'owner' } }, async (_request, reply) => {
    const facts = view({ damage: damageOf(app.db), last: await lastWhole(app.backups), timeZone: app.config.timeZone })
    return reply.page('rescue/show', facts, {
      title: 'When records are damaged',
      section: 'settings',
      trail: [{ href: '/settings', label: 'Settings' }],
    })
  })
}
