/* Photos of the log form go out at once, each by itself, and say how far they are. Without this script they follow on the entry's page. */
;(() => {
  const sending = new Set()
  let waiting = null
  let warned = false
  const at = (id) => document.getElementById(id)
  const log = () => document.querySelector('form.log')
  document.documentElement.classList.add('scripted')

  /** Not crypto.randomUUID: a server at home is often reached by plain http, where browsers lack it. */
  function uuid() {
    const bytes = crypto.getRandomValues(new Uint8Array(16))
    bytes[6] = (bytes[6] & 15) | 64
    bytes[8] = (bytes[8] & 63) | 128
    const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, '0')).join('')
    return hex.replace(/(.{8})(.{4})(.{4})(.{4})/, '$1-$2-$3-$4-')
  }

  function make(tag, more) {
    return Object.assign(document.createElement(tag), more)
  }

  function counted(count) {
    return count === 1 ? 'One photo' : `${count} photos`
  }

  function failed() {
    return document.querySelectorAll('#photos-sent .failed').length
  }

  function say(text) {
    at('photos-says').textContent = text
  }

  function tell() {
    const arrived = document.querySelectorAll('#photos-sent input[name=photos]').length
    const words = [
      sending.size > 0 ? `${counted(sending.size)} on the way.` : '',
      arrived > 0 ? `${counted(arrived)} sent.` : '',
      failed() > 0 ? `${counted(failed())} did not arrive.` : '',
    ]
    say(words.filter(Boolean).join(' '))
  }

  function add(file) {
    const item = make('li', { className: 'photo' })
    const name = make('span', { textContent: file.name })
    const bar = make('progress', { max: 1, value: 0 })
    const state = make('span', { className: 'small' })
    const retry = make('button', { type: 'button', textContent: 'Retry', hidden: true })
    const away = make('button', { type: 'button', textContent: 'Cancel' })
    const once = uuid()
    let request = null
    bar.setAttribute('aria-label', `${file.name}, sent so far`)
    for (const button of [retry, away]) button.append(make('span', { className: 'hidden', textContent: ` ${file.name}` }))
    item.append(name, bar, state, retry, away)
    at('photos-sent').append(item)

    function send() {
      const body = new FormData()
      body.append('_token', log().elements._token.value)
      body.append('once', once)
      body.append('component', log().elements.component.value)
      body.append('photo', file, file.name)
      request = new XMLHttpRequest()
      request.open('POST', at('photos').dataset.post)
      request.setRequestHeader('accept', 'application/json')
      request.upload.onprogress = (event) => {
        if (event.lengthComputable) bar.value = event.loaded / event.total
      }
      request.onload = () => settle(answerOf(request))
      request.onerror = () => settle({ says: 'Not sent: no connection.' })
      bar.value = 0
      bar.hidden = false
      retry.hidden = true
      state.textContent = ''
      item.classList.remove('failed')
      sending.add(item)
      request.send(body)
      tell()
    }

    function settle({ photo, says }) {
      sending.delete(item)
      bar.hidden = true
      away.firstChild.data = photo ? 'Leave out' : 'Remove'
      retry.hidden = Boolean(photo)
      item.classList.toggle('failed', !photo)
      state.textContent = photo ? 'sent' : says
      if (photo) {
        const input = make('input', { type: 'hidden', name: 'photos', value: photo.id })
        if (/^\/(?!\/)/.test(photo.thumbnail ?? '')) item.prepend(make('img', { src: photo.thumbnail, alt: '', width: 44, height: 44 }))
        item.append(input)
        input.dispatchEvent(new Event('input', { bubbles: true }))
      }
      tell()
      goOn()
    }

    retry.addEventListener('click', send)
    away.addEventListener('click', () => {
      if (sending.delete(item)) request.abort()
      const kept = item.querySelector('input[name=photos]')
      item.remove()
      at('photos-pick').dispatchEvent(new Event('input', { bubbles: true }))
      at('photos-pick').focus()
      tell()
      if (kept) say('Left out of this entry; it stays among the photos of the vehicle.')
      goOn()
    })
    send()
  }

  function answerOf(request) {
    let told = {}
    try {
      told = JSON.parse(request.responseText) ?? {}
    } catch {}
    if (request.status === 201 && told.photos?.[0]?.id) return { photo: told.photos[0] }
    if (request.status === 401 || new URL(request.responseURL || location.href).pathname.endsWith('/login'))
      return { says: 'Not sent: you are signed out. Save, sign in, and add it again.' }
    if (told.says) return { says: told.says }
    if (request.status === 413) return { says: 'The server in front refused it: too large.' }
    return { says: `The server in front refused it, as too large or for a reason of its own (${request.status}).` }
  }

  /** Save waits for what is on its way; what did not arrive holds it up once. */
  function goOn() {
    if (!waiting || sending.size > 0) return
    const button = waiting
    waiting = null
    button.form.requestSubmit(button)
  }

  document.addEventListener('change', (event) => {
    if (event.target.id !== 'photos-pick') return
    for (const file of event.target.files) add(file)
    event.target.value = ''
    warned = false
  })
  document.addEventListener(
    'submit',
    (event) => {
      if (event.target !== log() || event.submitter?.value !== 'save') return
      const isHeld = sending.size > 0 || (failed() > 0 && !warned)
      if (!isHeld) return
      event.preventDefault()
      event.stopImmediatePropagation()
      if (sending.size > 0) {
        waiting = event.submitter
        say(`Saved as soon as it has arrived: ${counted(sending.size).toLowerCase()} on the way.`)
      } else {
        warned = true
        say(`${counted(failed())} did not arrive: retry, remove, or press Save again to save without.`)
        at('photos-sent').querySelector('.failed button').focus()
      }
    },
    true,
  )
  // Enter asks what saving would do, as the button beside Save does; in the search it does nothing more than typing did.
  document.addEventListener('keydown', (event) => {
    if (event.key !== 'Enter' || event.target.form !== log() || event.target.tagName !== 'INPUT' || event.target.type === 'file') return
    event.preventDefault()
    if (event.target.id !== 'q') log().querySelector('button[value=try]').click()
  })
})()
