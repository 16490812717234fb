/** Pages from templates: escaped, and refusing to print what is not there. */
import { Eta } from 'eta'
import plugin from 'fastify-plugin'

declare module 'fastify' {
  interface FastifyReply {
    page(
      template: string,
      view: object,
      given: { readonly title: string; readonly status?: number; readonly section?: string },
    ): FastifyReply
  }
}

export const views = plugin<{ readonly folder: string }>(async (app, { folder }) => {
  const eta = new Eta({ views: folder, cache: true, autoEscape: true, autoFilter: true, filterFunction: printable })
  app.decorateReply('page', function (template, view, given) {
    const page = {
      title: given.title,
      section: given.section ?? '',
      formToken: this.request.formToken,
      person: this.request.signedIn ? this.request.actor.name : '',
      signedIn: this.request.signedIn,
    }
    const html = eta.render(`/${template}`, strict({ ...view, page }))
    return this.status(given.status ?? 200)
      .header('cache-control', 'no-store')
      .type('text/html; charset=utf-8')
      .send(html)
  })
})

/** Undefined, null and NaN never reach paper. */
function printable(value: unknown): string {
  if (value === undefined || value === null || (typeof value === 'number' && !Number.isFinite(value)))
    throw new Error(`A page would print ${String(value)}.`)
  return String(value)
}

/** A name that the view lacks is a fault, not an empty place. */
function strict(view: object): object {
  return new Proxy(view, {
    get(target, name) {
      if (typeof name === 'string' && !(name in target) && name !== 'body' && name !== 'toJSON')
        throw new Error(`The view has no "${name}".`)
      return Reflect.get(target, name)
    },
  })
}
