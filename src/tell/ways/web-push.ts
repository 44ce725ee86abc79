/** Push to a browser. It can be named in the configuration; sending is not built, and this says so. */
import { failed, type Way } from '../way.js'

export function createWebPushWay(): Way {
  return {
    kind: 'web-push',
    send: async () => failed(false, 'web-push is not available yet; use email, webhook or mqtt'),
  }
}
