/** Holds things until their time has come and gives them out in order of time; equal times in order of arrival. */
export class InOrder<T extends { readonly at: number }> {
  readonly #heap: { readonly item: T; readonly turn: number }[] = []
  #turn = 0

  get size(): number {
    return this.#heap.length
  }

  add(item: T): void {
    const heap = this.#heap
    heap.push({ item, turn: this.#turn++ })
    let child = heap.length - 1
    while (child > 0) {
      const parent = (child - 1) >> 1
      if (this.#before(parent, child)) break
      this.#swap(parent, child)
      child = parent
    }
  }

  /** The earliest at or before `until`, or null. */
  take(until: number): T | null {
    const heap = this.#heap
    const first = heap[0]
    if (first === undefined || first.item.at > until) return null
    const last = heap.pop()
    if (heap.length > 0 && last !== undefined) {
      heap[0] = last
      this.#sink()
    }
    return first.item
  }

  #sink(): void {
    let parent = 0
    for (;;) {
      const left = 2 * parent + 1
      if (left >= this.#heap.length) return
      const right = left + 1
      const child = right < this.#heap.length && this.#before(right, left) ? right : left
      if (this.#before(parent, child)) return
      this.#swap(parent, child)
      parent = child
    }
  }

  #before(a: number, b: number): boolean {
    const x = this.#heap[a]
    const y = this.#heap[b]
    if (x === undefined || y === undefined) return true
    return x.item.at < y.item.at || (x.item.at === y.item.at && x.turn < y.turn)
  }

  #swap(a: number, b: number): void {
    const x = this.#heap[a]
    const y = this.#heap[b]
    if (x === undefined || y === undefined) return
    this.#heap[a] = y
    this.#heap[b] = x
  }
}
