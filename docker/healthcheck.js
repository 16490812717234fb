// Asks the server in the same container whether it can take a save; exit status 0 if so.
const port = process.env.LOOMBOOK_PORT ?? '8180'
const host = ['0.0.0.0', '::', undefined].includes(process.env.LOOMBOOK_HOST) ? '127.0.0.1' : process.env.LOOMBOOK_HOST
fetch(`http://${host.includes(':') ? `[${host}]` : host}:${port}/readyz`, { signal: AbortSignal.timeout(4000) })
  .then((reply) => process.exit(reply.ok ? 0 : 1))
  .catch(() => process.exit(1))
