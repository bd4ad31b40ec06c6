/**
 * What the page's elements may use of the vendored rendering library, in types.
 *
 * Written by hand against the names that the file beside it exports; a test compares the two.
 * In an element:
 *
 *     import { html, render, useState } from "../vendor/htm-preact-standalone.js";
 *
 * A handle on a node or on a value that outlives a drawing:
 *
 *     const canvas = useRef(/** @type {HTMLCanvasElement | null} *\/ (null));
 *
 * The template knows nothing of attribute names: tsc does not check what stands inside html`...`.
 * There is no Fragment: a template with several roots gives a list, which may be returned as it is.
 */

/** One drawn element; made by html or h, read by nobody else. */
export interface VNode {
  readonly type: unknown;
  readonly props: unknown;
  readonly key: unknown;
}

/** What may stand between two tags, or be returned by a component. */
export type Child =
  | VNode
  | string
  | number
  | bigint
  | boolean
  | null
  | undefined
  | readonly Child[];

/** Every component may be given these beside its own properties. */
export interface Common {
  readonly children?: Child;
}

/** A function that draws: properties in, drawing out. */
export type FunctionComponent<P = {}> = (props: P & Common) => Child;

export type ComponentType<P = {}> = FunctionComponent<P> | (new (props: P) => Component<P, any>);

/** A box for one value; changing it does not draw again. */
export interface Ref<T> {
  current: T;
}

export type Setter<S> = (next: S | ((before: S) => S)) => void;

/** When given, the work is done again only if one of these values changed. */
export type Inputs = readonly unknown[];

/** Draws; the function returned, if any, is called before the next time and at the end. */
export type Effect = () => void | (() => void);

export interface Context<T> {
  readonly Provider: FunctionComponent<{ value: T }>;
  readonly Consumer: FunctionComponent<{ children: (value: T) => Child }>;
}

/** A template with one root gives a node; with several a list, with none nothing. */
export function html(strings: TemplateStringsArray, ...values: unknown[]): VNode;

/** The same without a template. */
export function h<P extends object>(
  type: string | ComponentType<P>,
  props?: (P & { key?: string | number; ref?: Ref<any> | ((node: any) => void) }) | null,
  ...children: Child[]
): VNode;

/** Draws into a node of the page, or brings what was drawn there before up to date. */
export function render(what: Child, into: Element | ShadowRoot | DocumentFragment): void;

/** A component that keeps its own state; needed only to catch errors of what it draws. */
export class Component<P = {}, S = {}> {
  constructor(props?: P);
  props: Readonly<P & Common>;
  state: Readonly<S>;
  setState(change: Partial<S> | ((state: Readonly<S>, props: Readonly<P>) => Partial<S> | null)): void;
  forceUpdate(): void;
  componentDidMount?(): void;
  componentDidUpdate?(propsBefore: Readonly<P>, stateBefore: Readonly<S>): void;
  componentWillUnmount?(): void;
  componentDidCatch?(error: unknown): void;
  shouldComponentUpdate?(propsNext: Readonly<P>, stateNext: Readonly<S>): boolean;
  render(props: Readonly<P & Common>, state: Readonly<S>): Child;
}

export function createContext<T>(otherwise: T): Context<T>;

export function useState<S>(first: S | (() => S)): [S, Setter<S>];
export function useReducer<S, A>(
  reduce: (state: S, action: A) => S,
  first: S,
): [S, (action: A) => void];
export function useReducer<S, A, I>(
  reduce: (state: S, action: A) => S,
  first: I,
  begin: (first: I) => S,
): [S, (action: A) => void];
export function useEffect(effect: Effect, inputs?: Inputs): void;
/** As useEffect, but before the browser paints: for measuring what was drawn. */
export function useLayoutEffect(effect: Effect, inputs?: Inputs): void;
export function useRef<T>(first: T): Ref<T>;
export function useMemo<T>(make: () => T, inputs: Inputs): T;
export function useCallback<F extends (...given: any[]) => unknown>(call: F, inputs: Inputs): F;
export function useContext<T>(context: Context<T>): T;
export function useImperativeHandle<T>(
  ref: Ref<T | null> | ((handle: T | null) => void),
  make: () => T,
  inputs?: Inputs,
): void;
export function useDebugValue<T>(value: T, say?: (value: T) => unknown): void;
/** The error of what is drawn below, if any, and a function that tries again. */
export function useErrorBoundary(
  heard?: (error: unknown) => void,
): [unknown, () => void];
