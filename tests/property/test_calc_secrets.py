from ipaddress import IPv4Network
from math import log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from doorwright.calc.addresses import usable_hosts_count
from doorwright.calc.secrets import entropy_bit


@given(length_count=st.integers(min_value=1, max_value=40), alphabet_count=st.integers(min_value=2, max_value=94))
def test_entropy_counts_the_secrets_there_are(length_count: int, alphabet_count: int) -> None:
    found_bit = entropy_bit(length_count=length_count, alphabet_count=alphabet_count)
    assert found_bit == pytest.approx(log2(alphabet_count**length_count))
    assert found_bit < entropy_bit(length_count=length_count + 1, alphabet_count=alphabet_count)
    assert found_bit < entropy_bit(length_count=length_count, alphabet_count=alphabet_count + 1)


@given(prefix_bit=st.integers(min_value=20, max_value=32))
def test_usable_hosts_are_those_of_the_standard_library(prefix_bit: int) -> None:
    assert usable_hosts_count(prefix_bit=prefix_bit) == len(list(IPv4Network((0, prefix_bit)).hosts()))
