"""JSON as strictly as the standard allows: no key twice in one object, no NaN, no Infinity."""
import json


def object_of(pairs):
    keys = [key for key, _ in pairs]
    twice = sorted({key for key in keys if keys.count(key) > 1})
    if twice:
        raise ValueError('twice in one object: ' + ', '.join(twice))
    return dict(pairs)


def refuse(constant):
    raise ValueError('no JSON: ' + constant)


def strict(text):
    return json.loads(text, object_pairs_hook=object_of, parse_constant=refuse)
