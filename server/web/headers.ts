/** The headers of every answer: what its page may load and do, and that it is taken for what it says. */
import fastifyHelmet from '@fastify/helmet'
import plugin from 'fastify-plugin'

const POLICY = {
  defaultSrc: ["'none'"],
  scriptSrc: ["'self'"],
  styleSrc: ["'self'"],
  imgSrc: ["'self'", 'data:', 'blob:'],
  fontSrc: ["'self'"],
  connectSrc: ["'self'"],
  objectSrc: ["'none'"],
  formAction: ["'self'"],
  frameAncestors: ["'none'"],
  baseUri: ["'none'"],
  manifestSrc: ["'self'"],
}
/**
 * On plain http the usual defaults (upgrade, COOP) break sign-in: only what holds on both is sent. HSTS (RFC 6797) is not sent at all: browsers
 * hold to it for every port and program of that name, past the day a certificate ends, and nobody here could take it back. It is for who holds
 * the certificate: the proxy.
 */
export const headers = plugin(async (app) => {
  await app.register(fastifyHelmet, {
    contentSecurityPolicy: { useDefaults: false, directives: POLICY },
    strictTransportSecurity: false,
    crossOriginOpenerPolicy: false,
    originAgentCluster: false,
    referrerPolicy: { policy: 'same-origin' },
  })
})
