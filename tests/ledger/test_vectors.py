"""Tree, canonical form, signature and commitment against published values."""

from __future__ import annotations

import json
import struct
from hashlib import sha256
from typing import Any

import pytest
import rfc8785
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from hypothesis import given
from hypothesis import strategies as st

from pairing.ledger import tree
from pairing.ledger.canonical import canonical
from pairing.ledger.erasable import commit
from pairing.ledger.keys import is_signed

# Inputs, roots and proofs of the tree's test in the Certificate Transparency reference
# implementation (google/certificate-transparency, python/ct/crypto/merkle_test.py and
# in_memory_merkle_tree_test.py; cpp/merkletree/merkle_tree_test.cc). RFC 9162 keeps RFC 6962's
# hashes.
INPUTS = [
    bytes.fromhex(text)
    for text in (
        "",
        "00",
        "10",
        "2021",
        "3031",
        "40414243",
        "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    )
]
ROOTS = [
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]
INCLUSION = [
    (0, 1, []),
    (
        0,
        8,
        [
            "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
            "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
            "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
        ],
    ),
    (
        5,
        8,
        [
            "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
            "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
            "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
        ],
    ),
    (2, 3, ["fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125"]),
    (
        1,
        5,
        [
            "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
            "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
            "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
        ],
    ),
]
CONSISTENCY = [
    (1, 1, []),
    (
        1,
        8,
        [
            "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
            "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
            "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
        ],
    ),
    (
        6,
        8,
        [
            "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
            "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
            "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
        ],
    ),
    (
        2,
        5,
        [
            "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
            "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
        ],
    ),
]


class Grown:
    """A tree grown leaf by leaf, as the ledger grows it."""

    def __init__(self, inputs: list[bytes]) -> None:
        self.frontier = tree.Frontier()
        self.nodes: list[bytes] = []
        self.roots = [self.frontier.root()]
        for data in inputs:
            self.nodes.append(self.frontier.push(tree.leaf_hash(data)))
            self.roots.append(self.frontier.root())

    def subtree(self, level: int, index: int) -> bytes:
        found = self.nodes[((index + 1) << level) - 1]
        return found[32 * level : 32 * level + 32]


def reference_root(inputs: list[bytes]) -> bytes:
    """MTH, word for word after RFC 9162, 2.1.1."""
    if not inputs:
        return sha256(b"").digest()
    if len(inputs) == 1:
        return sha256(b"\x00" + inputs[0]).digest()
    half = 1
    while half * 2 < len(inputs):
        half *= 2
    left, right = reference_root(inputs[:half]), reference_root(inputs[half:])
    return sha256(b"\x01" + left + right).digest()


def test_roots_are_the_published_ones() -> None:
    assert [root.hex() for root in Grown(INPUTS).roots] == ROOTS


@pytest.mark.parametrize(("index", "size", "path"), INCLUSION)
def test_inclusion_proofs_are_the_published_ones(index: int, size: int, path: list[str]) -> None:
    grown = Grown(INPUTS)
    proof = tree.inclusion(index, size, grown.subtree)
    assert [step.hex() for step in proof] == path
    leaf = tree.leaf_hash(INPUTS[index])
    assert tree.is_included(leaf, index, size, proof, bytes.fromhex(ROOTS[size]))


@pytest.mark.parametrize(("first", "second", "path"), CONSISTENCY)
def test_consistency_proofs_are_the_published_ones(
    first: int, second: int, path: list[str]
) -> None:
    proof = tree.consistency(first, second, Grown(INPUTS).subtree)
    assert [step.hex() for step in proof] == path
    roots = bytes.fromhex(ROOTS[first]), bytes.fromhex(ROOTS[second])
    assert tree.is_consistent(first, second, proof, *roots)


def test_every_proof_of_every_small_tree_holds_and_no_other_does() -> None:
    grown = Grown([bytes([number]) for number in range(40)])
    for size in range(1, 41):
        root = reference_root([bytes([number]) for number in range(size)])
        assert root == grown.roots[size] == tree.root_of(size, grown.subtree)
        for index in range(size):
            proof = tree.inclusion(index, size, grown.subtree)
            leaf = grown.subtree(0, index)
            assert tree.is_included(leaf, index, size, proof, root)
            other = (index + 1) % size
            assert size == 1 or not tree.is_included(leaf, other, size, proof, root)
            assert not tree.is_included(leaf, index, size, [*proof, root], root)
            assert not tree.is_included(leaf, index, size, proof, grown.roots[size - 1])
        for first in range(size + 1):
            proof = tree.consistency(first, size, grown.subtree)
            assert tree.is_consistent(first, size, proof, grown.roots[first], root)
            assert not tree.is_consistent(first, size, proof, sha256(b"x").digest(), root)
            if 0 < first < size:
                wrong = grown.roots[size - 1]
                assert not tree.is_consistent(first, size, proof, grown.roots[first], wrong)
                assert not tree.is_consistent(first, size, proof[:-1], grown.roots[first], root)


# RFC 8785, 3.2.2 to 3.2.4.
SAMPLE = r"""{
  "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
  "literals": [null, true, false]
}"""
SAMPLE_CANONICAL = (
    r'{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
    r'"string":"€$\u000f\nA' + r"'B\"\\\\\"/" + '"}'
)
SORTED = ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]

# RFC 8785, appendix B.
NUMBERS = [
    ("0000000000000000", "0"),
    ("8000000000000000", "0"),
    ("0000000000000001", "5e-324"),
    ("8000000000000001", "-5e-324"),
    ("7fefffffffffffff", "1.7976931348623157e+308"),
    ("ffefffffffffffff", "-1.7976931348623157e+308"),
    ("4340000000000000", "9007199254740992"),
    ("c340000000000000", "-9007199254740992"),
    ("4430000000000000", "295147905179352830000"),
    ("44b52d02c7e14af5", "9.999999999999997e+22"),
    ("44b52d02c7e14af6", "1e+23"),
    ("44b52d02c7e14af7", "1.0000000000000001e+23"),
    ("444b1ae4d6e2ef4e", "999999999999999700000"),
    ("444b1ae4d6e2ef4f", "999999999999999900000"),
    ("444b1ae4d6e2ef50", "1e+21"),
    ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
    ("3eb0c6f7a0b5ed8d", "0.000001"),
    ("41b3de4355555553", "333333333.3333332"),
    ("41b3de4355555554", "333333333.33333325"),
    ("41b3de4355555555", "333333333.3333333"),
    ("41b3de4355555556", "333333333.3333334"),
    ("41b3de4355555557", "333333333.33333343"),
    ("becbf647612f3696", "-0.0000033333333333333333"),
    ("43143ff3c1cb0959", "1424953923781206.2"),
]


def test_the_sample_of_rfc_8785() -> None:
    assert canonical(json.loads(SAMPLE)) == SAMPLE_CANONICAL.encode()


def test_members_are_sorted_by_utf_16() -> None:
    found = json.loads(canonical(dict.fromkeys(sorted(SORTED), "")))
    assert list(found) == SORTED


@pytest.mark.parametrize(("bits", "text"), NUMBERS)
def test_numbers_of_rfc_8785(bits: str, text: str) -> None:
    (number,) = struct.unpack(">d", bytes.fromhex(bits))
    assert canonical({"n": number}) == f'{{"n":{text}}}'.encode()


@given(st.dictionaries(st.text(), st.text() | st.integers(0, 2**53 - 1) | st.booleans()))
def test_any_object_comes_back(value: dict[str, Any]) -> None:
    assert json.loads(canonical(value)) == value
    assert canonical(value) == rfc8785.dumps(value)


def test_ed25519_of_rfc_8032() -> None:
    # RFC 8032, 7.1, TEST 1 and TEST 2.
    for secret, public, message, signature in (
        (
            "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
            "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
            "",
            "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bac"
            "c61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
        ),
        (
            "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
            "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
            "72",
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e"
            "458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
        ),
    ):
        key = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret))
        raw = key.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw)
        assert raw.hex() == public
        assert key.sign(bytes.fromhex(message)).hex() == signature
        assert is_signed(raw, bytes.fromhex(message), bytes.fromhex(signature))
        assert not is_signed(raw, bytes.fromhex(message) + b"x", bytes.fromhex(signature))
        assert not is_signed(raw[:-1], b"", bytes.fromhex(signature))


def test_the_commitment_is_hmac_sha_256() -> None:
    # RFC 4231, test case 2.
    assert (
        commit(b"Jefe", b"what do ya want for nothing?")
        == "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
    )
