/**
 * What every request passes before anything answers it: one server for the house and for the one page beside a damaged database, so that
 * neither has a bound, a header or a line in the log that the other lacks.
 */
import type { IncomingMessage } from 'node:http'
import { join } from 'node:path'
import fastifyCookie from '@fastify/cookie'
import fastifyFormbody from '@fastify/formbody'
import fastifyStatic from '@fastify/static'
import fastify, { type FastifyInstance, type FastifyRequest } from 'fastify'
import type { Config } from './config.ts'
import type { Clock } from './records/clock.ts'
import { networkOf } from './records/sign-in-limits.ts'
import { basePaths, withoutBase } from './web/base-path.ts'
import { connections, MOST_connections } from './web/connections.ts'
import { headers } from './web/headers.ts'
import { hosts } from './web/hosts.ts'
import { loggedAddress } from './web/logged-address.ts'
import { methods } from './web/methods.ts'
import { oddAddresses, readable } from './web/odd-addresses.ts'
import { pace } from './web/pace.ts'
import { plainBodies } from './web/plain-bodies.ts'
import { requestLog } from './web/request-log.ts'
import { stopping } from './web/stopping.ts'
import { turns } from './web/turns.ts'
import type { Address } from './decorations.ts'
import './decorations.ts'

/** To the standard output, or to what is given. */
export type Log = boolean | { write(line: string): void }

/** A server with nothing behind its door. */
export async function openEntrance(given: {
  readonly clock: Clock
  readonly config: Config
  readonly log: Log | undefined
  /** of a body that is no file */
  readonly most_bytes: number
  /** for all of a request to come in */
  readonly longest_ms: number
  /** of a request: what a page about a fault and the log call it by */
  readonly newNumber: () => string
}): Promise<FastifyInstance> {
  const { clock, config, log } = given
  const { basePath = '', trustedProxies } = config
  const app = fastify({
    logger: log ? { level: config.logLevel ?? 'info', serializers, ...(log === true ? {} : { stream: log }) } : false,
    logController: new fastify.LogController({ disableRequestLogging: true }),
    trustProxy: trustedProxies === undefined ? false : (address: string) => trustedProxies.holds(address),
    rewriteUrl: (raw) => readable(raw as IncomingMessage, withoutBase(raw as IncomingMessage, basePath)),
    bodyLimit: given.most_bytes,
    requestTimeout: given.longest_ms,
    genReqId: given.newNumber,
  })
  const answered: Address[] = []
  app.decorate('answered', answered)
  app.addHook('onRoute', ({ method, url }) => {
    for (const one of [method].flat()) answered.push({ method: one, url })
  })
  app.decorate('clock', clock)
  app.decorate('config', config)
  await app.register(connections, { most: MOST_connections, networkOf })
  await app.register(headers)
  await app.register(stopping)
  await app.register(requestLog)
  await app.register(oddAddresses)
  await app.register(hosts, { hosts: config.hosts })
  await app.register(methods)
  await app.register(turns)
  await app.register(pace)
  await app.register(plainBodies)
  await app.register(fastifyCookie)
  // After the cookies: what is set in them is changed too.
  await app.register(basePaths, { basePath })
  await app.register(fastifyFormbody)
  await app.register(fastifyStatic, { root: join(import.meta.dirname, '..', 'static'), prefix: '/static/', maxAge: '1h' })
  return app
}

/** What of a request is logged beside our own line: no header, and no token that stands in its address. */
const serializers = {
  req: (request: FastifyRequest) => ({ method: request.method, url: loggedAddress(request.url), remoteAddress: request.ip }),
}
