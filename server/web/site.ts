/** Where this site is, for links that leave it. */
import type { FastifyRequest } from 'fastify'

/** An address of ours with scheme and host: as the owner configured it, else as this request found us. */
export function absolute(request: FastifyRequest, path: string): string {
  const { baseUrl, basePath = '' } = request.server.config
  return `${baseUrl ?? `${request.protocol}://${request.host}${basePath}`}${path}`
}
