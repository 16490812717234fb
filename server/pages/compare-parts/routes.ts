/** Parts of one kind side by side. */
import type { FastifyInstance } from 'fastify'
import { whereFitted } from '../../records/fittings.ts'
import { partOf } from '../../records/parts.ts'
import { lastPriceOf, purchasesOf } from '../../records/purchases.ts'
import { currencyOf } from '../../records/settings.ts'
import { NotFound } from '../../web/error-pages.ts'
import { asked, view } from './view.ts'

export function register(app: FastifyInstance): void {
  app.get('/parts/compare', async (request, reply) => {
    const ids = asked((request.query as { part?: unknown }).part)
    const parts = ids.map((id) => partOf(app.db, request.actor, id)).filter((part) => part !== null)
    if (parts.length < ids.length) throw new NotFound('There is no such part here.')
    const candidates = parts.map((part) => ({
      part,
      price: lastPriceOf(purchasesOf(app.db, request.actor, part.id)),
      failures: whereFitted(app.db, request.actor, part.id).filter((one) => one.fate === 'failed').length,
    }))
    const facts = view(candidates, { currency: currencyOf(app.db, request.actor) })
    const trail = [{ href: '/shelf', label: 'Shelf' }]
    return reply.page('compare-parts/show', facts, {
      title: 'Side by side',
      section: 'shelf',
      status: facts.refused === '' ? 200 : 422,
      trail,
    })
  })
}
