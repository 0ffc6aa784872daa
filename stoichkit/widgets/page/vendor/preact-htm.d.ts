/** What the page uses of Preact and htm. */
export function html(strings: TemplateStringsArray, ...values: any[]): any;
export function render(what: any, into: Element): void;
export function useEffect(effect: () => void | (() => void), inputs?: any[]): void;
export function useLayoutEffect(effect: () => void | (() => void), inputs?: any[]): void;
export function useRef<T>(initial: T): { current: T };
export function useState<T>(initial: T): [T, (next: T) => void];
export class Component {
  props: any;
  base: any;
  setState(state: object): void;
}
