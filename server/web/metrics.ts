/** Measures in the text format of Prometheus, for the networks and the token that the owner named. Off unless configured. */
import { createHash, timingSafeEqual } from 'node:crypto'
import type { FastifyRequest } from 'fastify'
import plugin from 'fastify-plugin'
import { isPassedOnByAnybody } from './site.ts'

/** A figure that is looked up when it is asked for. */
export type Gauge = {
  readonly name: string
  readonly help: string
  readonly values: () => Promise<readonly Sample[]> | readonly Sample[]
}
export type Sample = { readonly value: number; readonly labels?: Readonly<Record<string, string>> }
type Options = {
  readonly allows: { readonly networks: { readonly holds: (address: string) => boolean } | null; readonly token: string | null } | undefined
  readonly gauges: readonly Gauge[]
}

/** Upper bounds in seconds: from a list page's usual time to what nobody waits for. */
const BUCKETS_s = [0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 10]

export const metrics = plugin<Options>(async (app, { allows, gauges }) => {
  if (allows === undefined) return
  const { Registry, Histogram, Gauge: Meter, collectDefaultMetrics } = await import('prom-client')
  const registry = new Registry()
  collectDefaultMetrics({ register: registry })
  const took = new Histogram({
    name: 'loombook_http_request_duration_seconds',
    help: 'Time from a request to its answer.',
    labelNames: ['method', 'route', 'status'],
    buckets: BUCKETS_s,
    registers: [registry],
  })
  for (const { name, help, values } of gauges) {
    new Meter({
      name,
      help,
      labelNames: ['job'],
      registers: [registry],
      async collect() {
        this.reset()
        for (const { value, labels } of await values()) labels ? this.set(labels, value) : this.set(value)
      },
    })
  }
  app.addHook('onResponse', async (request, reply) => {
    const route = request.routeOptions.url ?? '(none)'
    took.observe({ method: request.method, route, status: `${Math.floor(reply.statusCode / 100)}xx` }, reply.elapsedTime / 1000)
  })
  app.get('/metrics', async (request, reply) => {
    if (!mayRead(request, allows)) return reply.status(403).type('text/plain; charset=utf-8').send('Not for you.\n')
    return reply
      .header('cache-control', 'no-store')
      .type(registry.contentType)
      .send(await registry.metrics())
  })
})

/** What a proxy that is not trusted passes on comes from nobody knows where: then only the token counts. */
function mayRead(request: FastifyRequest, allows: NonNullable<Options['allows']>): boolean {
  if (allows.token !== null && isSame(request.headers.authorization ?? '', `Bearer ${allows.token}`)) return true
  return !isPassedOnByAnybody(request) && allows.networks?.holds(request.ip) === true
}

function isSame(given: string, right: string): boolean {
  const digest = (text: string) => createHash('sha256').update(text).digest()
  return timingSafeEqual(digest(given), digest(right))
}
