/** "Tell this phone": asks the browser for a subscription (Push API) and hands it to the daemon. */
import { el } from './dom.js'
import { act, read } from './net.js'

type Offer = {
  readonly public_key: string
  readonly people: readonly { readonly person: string; readonly way: string; readonly browsers: number }[]
}

const CANNOT =
  'This browser cannot be told: it has no web push, or the page was not opened over https. Some phones want the page on their home screen first.'
const NOBODY =
  'To have phones told, give a person a way of the kind web-push in the configuration: tell: ways: push-1: { kind: web-push }.'

async function registration(): Promise<ServiceWorkerRegistration | null> {
  if (!('serviceWorker' in navigator) || !('PushManager' in globalThis)) return null
  return (await navigator.serviceWorker.getRegistration()) ?? null
}

async function subscribe(offer: Offer, person: string, way: string): Promise<void> {
  if ((await Notification.requestPermission()) !== 'granted') {
    throw new Error('The browser was not allowed to show messages. Its settings for this page can change that.')
  }
  const worker = await navigator.serviceWorker.ready
  const asked = { userVisibleOnly: true, applicationServerKey: offer.public_key }
  const subscription = await worker.pushManager.subscribe(asked)
  const { endpoint, keys } = subscription.toJSON()
  await act('/api/push', { person, way, subscription: { endpoint, keys } })
}

async function unsubscribe(subscription: PushSubscription): Promise<void> {
  await act('/api/push', { endpoint: subscription.endpoint }, 'DELETE')
  await subscription.unsubscribe()
}

export type TellPhone = { readonly element: HTMLElement; readonly show: () => Promise<void> }

/** The part for owners; `show` asks anew. */
export function tellPhonePart(): TellPhone {
  const body = el('div', {})
  const trouble = el('p', { class: 'caution', role: 'alert', hidden: true })
  const element = el('div', { id: 'tell-phone' }, el('h3', {}, 'Tell this phone'), body, trouble)

  function button(words: string, press: () => Promise<void>): HTMLElement {
    const made = el('button', { type: 'button' }, words)
    made.addEventListener('click', () => {
      made.disabled = true
      trouble.hidden = true
      press()
        .catch((error: unknown) => {
          trouble.textContent = `That did not work. ${error instanceof Error ? error.message : ''}`
          trouble.hidden = false
        })
        .finally(() => void show())
    })
    return made
  }

  function offerRow(offer: Offer, { person, way, browsers }: Offer['people'][number]): HTMLElement {
    const words = `${person}, by ${way}: ${browsers === 0 ? 'no browser' : browsers === 1 ? '1 browser' : `${browsers} browsers`} so far.`
    return el(
      'div',
      { class: 'row' },
      el('p', { class: 'grow' }, words),
      button(`Tell this phone as ${person}`, () => subscribe(offer, person, way)),
    )
  }

  async function show(): Promise<void> {
    const worker = await registration()
    const offer = await read<Offer>('/api/push').catch(() => null)
    if (offer === null) return
    if (offer.people.length === 0) return body.replaceChildren(el('p', { class: 'quiet' }, NOBODY))
    if (worker === null) return body.replaceChildren(el('p', { class: 'quiet' }, CANNOT))
    const subscription = await worker.pushManager.getSubscription()
    body.replaceChildren(
      ...(subscription === null
        ? offer.people.map((one) => offerRow(offer, one))
        : [el('p', {}, 'This phone is told.'), button('Tell it no more', () => unsubscribe(subscription))]),
    )
  }
  return { element, show }
}
