/** Whether something can listen where the settings say, tried before anything is opened; what the system says to it, in the owner's words. */
import { createServer } from 'node:net'

type At = { readonly host: string; readonly port: number }
/** `isInUse`: another program has the port now, which may pass. */
export type NotOpen = { readonly says: string; readonly isInUse: boolean }

/** Null where a door can be opened there. It is shut again at once. */
export function whyNotOpen(at: At): Promise<NotOpen | null> {
  return new Promise((resolve) => {
    // Whoever knocks meanwhile is let go, so that the trial ends.
    const server = createServer((socket) => socket.destroy())
    server.once('error', (fault: NodeJS.ErrnoException) =>
      resolve({ says: whyNotListening(fault, at), isInUse: fault.code === 'EADDRINUSE' }),
    )
    server.listen(at, () => server.close(() => resolve(null)))
  })
}

/** What was answered to who wanted to listen there, by the codes of listen(2), bind(2) and getaddrinfo(3). */
export function whyNotListening({ code = 'unknown reason' }: NodeJS.ErrnoException, { host, port }: At): string {
  if (code === 'EADDRINUSE') return `LOOMBOOK_PORT ${port} at ${host} is in use by another program: end that one, or set another port.`
  if (code === 'EACCES' || code === 'EPERM')
    return `LOOMBOOK_PORT ${port} may not be listened on by this user (${code}): ports below 1024 are the system’s; set one from 1024 to 65535.`
  if (code === 'EADDRNOTAVAIL')
    return `LOOMBOOK_HOST is an address of this machine to listen on, such as 127.0.0.1 or 0.0.0.0, and "${host}" is none of its addresses.`
  if (/^(ENOTFOUND|EAI_)/.test(code))
    return `LOOMBOOK_HOST is an address to listen on, such as 127.0.0.1 or 0.0.0.0, and the name "${host}" is not known here (${code}).`
  return `LOOMBOOK_HOST "${host}" and LOOMBOOK_PORT ${port}: nothing can listen there (${code}).`
}
