"""Syntax trees of all modules of handslide, walked fast, as there are many nodes."""

import ast

_LEAVES = (ast.expr_context, ast.operator, ast.cmpop, ast.boolop, ast.unaryop)


def walked(tree):
    """The nodes that `ast.walk` gives, but for contexts and most operators."""
    found = [tree]
    for node in found:
        for value in vars(node).values():
            if isinstance(value, list):
                found += [one for one in value if isinstance(one, ast.AST)]
            elif isinstance(value, ast.AST) and not isinstance(value, _LEAVES):
                found.append(value)
    return found
