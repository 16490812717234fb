import type { FastifyInstance } from 'fastify'
import { rules } from '../../engine/rules/index.ts'
import { NotFound } from '../../web/error-pages.ts'
import { ruleOf } from '../shared/rule-words.ts'
import { listView, view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/rules', async (_, reply) => reply.page('rules/list', listView(rules), { title: 'Rules' }))

  app.get('/rules/:rule', async (request, reply) => {
    const rule = ruleOf((request.params as { rule: string }).rule)
    if (!rule) throw new NotFound('There is no such rule.')
    return reply.page('rules/show', view(rule), {
      title: `${rule.title} · Rules`,
      heading: rule.title,
      trail: [{ href: '/rules', label: 'Rules' }],
    })
  })
}
