/**
 * Names looked up for addresses that strangers may have chosen: an answer that lies in a private network, on this
 * machine or on its link is refused, so that nobody can make us call into our own house by a name of theirs. The
 * address that was looked at is the one that is connected to.
 */
import { lookup as lookUp } from 'node:dns'
import { BlockList, isIPv6, type LookupFunction } from 'node:net'

/** The special-purpose addresses of RFC 6890 and the registries that follow it, as far as they reach anything near. */
const NEAR: readonly (readonly [net: string, prefix: number, family: 'ipv4' | 'ipv6'])[] = [
  ['0.0.0.0', 8, 'ipv4'],
  ['10.0.0.0', 8, 'ipv4'],
  ['100.64.0.0', 10, 'ipv4'],
  ['127.0.0.0', 8, 'ipv4'],
  ['169.254.0.0', 16, 'ipv4'],
  ['172.16.0.0', 12, 'ipv4'],
  ['192.0.0.0', 24, 'ipv4'],
  ['192.168.0.0', 16, 'ipv4'],
  ['198.18.0.0', 15, 'ipv4'],
  ['224.0.0.0', 3, 'ipv4'],
  ['::', 127, 'ipv6'],
  ['64:ff9b::', 96, 'ipv6'],
  ['fc00::', 7, 'ipv6'],
  ['fe80::', 10, 'ipv6'],
  ['ff00::', 8, 'ipv6'],
]

const near = new BlockList()
for (const [net, prefix, family] of NEAR) near.addSubnet(net, prefix, family)

/** Whether an IP address belongs to the wide net, and to no house or machine nearby. */
export function isPublicAddress(address: string): boolean {
  return !near.check(address, isIPv6(address) ? 'ipv6' : 'ipv4')
}

/** As `dns.lookup`, made of any other; fails with EACCES where one of the answers lies near. */
export function publicLookup(ask: typeof lookUp = lookUp): LookupFunction {
  return (hostname, options, callback) => {
    ask(hostname, { ...options, all: true }, (error, addresses) => {
      if (error !== null) {
        callback(error, [])
        return
      }
      const found = addresses.find(({ address }) => !isPublicAddress(address))
      const [first] = addresses
      if (found !== undefined || first === undefined) {
        const what = `${hostname} is ${found?.address ?? 'nowhere'}, which is no address of the wide net`
        callback(Object.assign(new Error(what), { code: 'EACCES' }), [])
      } else if (options.all === true) callback(null, addresses)
      else callback(null, first.address, first.family)
    })
  }
}
