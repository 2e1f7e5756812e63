import type { ButtonHTMLAttributes, Ref } from 'react';
import './button.css';

export interface ButtonProps extends ButtonHTMLAttributes<HTMLButtonElement> {
  /** 'main' is the one thing to do here; 'quiet' has no border; 'removes' takes something away. */
  readonly kind?: 'plain' | 'main' | 'quiet' | 'removes';
  readonly small?: boolean;
  readonly ref?: Ref<HTMLButtonElement>;
}

/** A button of the house. */
export function Button({ kind = 'plain', small = false, className = '', type = 'button', ...rest }: ButtonProps) {
  return (
    <button type={type} className={`button button-${kind} ${small ? 'button-small' : ''} ${className}`} {...rest} />
  );
}
