/* What is typed in a form marked data-draft is kept in this browser until it is saved. Without this script the form works all the same. */
;(() => {
  const PREFIX = 'loombook draft '
  /** Written when somebody signs out: other tabs hear of it. */
  const LEFT = 'loombook left'
  /** Beside the folder that this script is in, wherever the site is. */
  const HEALTH = new URL('../healthz', document.currentScript.src).href
  const KEPT_ms = 60 * 86400000
  const form = () => document.querySelector('form[data-draft]')
  const key = () => PREFIX + form().dataset.draft
  let touched = false
  let mayGo = false
  let timer

  function read(name) {
    try {
      return JSON.parse(localStorage.getItem(name))
    } catch {
      return null
    }
  }

  function drafts() {
    return Object.keys(localStorage).filter((one) => one.startsWith(PREFIX))
  }

  /** Lets go of what the server says is saved, and of what is old. */
  function tidy() {
    const saved = /(?:^|; )loombook_saved=([\w-]+)/.exec(document.cookie)?.[1]
    for (const name of drafts()) {
      const draft = read(name)
      if (!draft || draft.once === saved || Date.now() - draft.at > KEPT_ms) localStorage.removeItem(name)
    }
  }

  function keep() {
    clearTimeout(timer)
    if (!form() || !touched) return
    const fields = [...new FormData(form())].filter(([name, value]) => typeof value === 'string' && !name.startsWith('_'))
    try {
      localStorage.setItem(key(), JSON.stringify({ at: Date.now(), once: form().elements.once.value, fields }))
    } catch {
      say('This browser keeps nothing: what you type here is lost if the page is closed.')
    }
  }

  /** Whoever signs out leaves nothing here for the next one; what a session that ends by itself leaves is still wanted. */
  function leave(event) {
    if (!event.target.matches('form[action$="/sessions/end"]')) return
    forget()
    for (const name of drafts()) localStorage.removeItem(name)
    localStorage.setItem(LEFT, String(Date.now()))
  }

  /** Nothing more of this page is kept, unless somebody types on. */
  function forget() {
    touched = false
    clearTimeout(timer)
  }

  function say(text) {
    const place = document.getElementById('draft-says')
    if (place) place.textContent = text
  }

  function note(words, label, act) {
    document.getElementById('draft-note')?.remove()
    const box = document.createElement('p')
    const button = document.createElement('button')
    Object.assign(box, { id: 'draft-note', className: 'note' })
    Object.assign(button, { type: 'button', className: 'quiet', textContent: label })
    button.addEventListener('click', act)
    box.setAttribute('role', 'status')
    form().before(box)
    box.append(`${words} `, button)
  }

  /** The server fills the form in, as it does with one that was refused: nothing is saved by that. */
  async function bringBack(draft) {
    const day = new Date(draft.at).toLocaleDateString('en-GB', { day: 'numeric', month: 'long' })
    const old = form()
    const body = new URLSearchParams(draft.fields)
    for (const name of ['_token', '_at']) body.set(name, old.elements[name].value)
    body.set('do', 'show')
    try {
      const reply = await fetch(old.getAttribute('action'), { method: 'POST', body })
      const filled = new DOMParser().parseFromString(await reply.text(), 'text/html').querySelector('form[data-draft]')
      if (!reply.ok || !filled || touched) throw new Error('not now')
      old.replaceWith(filled)
      window.htmx?.process(filled)
      touched = true
      note(`What you typed on ${day} is back; nothing of it is saved yet.`, 'Start afresh', () => {
        touched = false
        localStorage.removeItem(key())
        location.assign(form().dataset.draft)
      })
    } catch {
      if (!touched) note(`What you typed on ${day} is kept here.`, 'Bring it back', () => bringBack(draft))
    }
  }

  async function reachable() {
    try {
      return navigator.onLine && (await fetch(HEALTH, { cache: 'no-store', signal: AbortSignal.timeout(8000) })).ok
    } catch {
      return false
    }
  }

  function typed(event) {
    if (!form() || event.target.form !== form() || event.target.type === 'file') return
    touched = true
    clearTimeout(timer)
    timer = setTimeout(keep, 300)
  }

  /** Asks for the server first, so that a lost connection is said here and not by the browser on an empty page. */
  async function sent(event) {
    const { target, submitter } = event
    if (target !== form() || submitter?.value !== 'save') return
    touched = true
    keep()
    if (mayGo) {
      mayGo = false
      return
    }
    event.preventDefault()
    event.stopImmediatePropagation()
    say('Saving …')
    mayGo = await reachable()
    say(mayGo ? '' : 'Not sent: no connection. What you typed is kept here; press Save again when there is one.')
    if (mayGo) target.requestSubmit(submitter)
  }

  try {
    tidy()
  } catch {
    return
  }
  document.addEventListener('submit', leave)
  if (!form()) return
  addEventListener('storage', ({ key: name }) => name === LEFT && forget())
  document.addEventListener('input', typed)
  document.addEventListener('change', typed)
  document.addEventListener('visibilitychange', keep)
  document.addEventListener('submit', sent, true)
  const draft = form().dataset.fresh ? read(key()) : null
  if (draft) bringBack(draft)
})()
