/** Names of this site: where they are configured, a request for another name is misdirected. */
import plugin from 'fastify-plugin'

/** Asked by programs of the machine, which know an address and no name. */
const ANY_NAME = ['/healthz', '/readyz', '/metrics']

export const hosts = plugin<{ readonly hosts: readonly string[] | undefined }>(async (app, options) => {
  if (options.hosts === undefined) return
  const known = new Set(options.hosts.map((host) => host.toLowerCase()))
  app.addHook('onRequest', async (request, reply) => {
    if (known.has(request.host.toLowerCase()) || ANY_NAME.includes(request.url)) return
    return reply.status(421).type('text/plain; charset=utf-8').send('This server is not known by that name.\n')
  })
})
