"""Normal and abnormal loss of a melt."""

from costing.core.lines import compute_abnormal_value, compute_normal_loss


def test_a_loss_within_what_is_normal_is_all_normal():
    assert compute_normal_loss(180_000, 1_350, 100) == (1_350, 0)


def test_a_loss_beyond_what_is_normal_is_abnormal_for_the_rest():
    assert compute_normal_loss(180_000, 2_000, 100) == (1_800, 200)


def test_a_loss_below_zero_is_the_scale_and_normal():
    assert compute_normal_loss(180_000, -20, 100) == (-20, 0)
    assert compute_normal_loss(180_000, -20, 0) == (-20, 0)


def test_no_abnormal_loss_has_no_value():
    assert compute_abnormal_value(1_000_000, 100, 0) == 0
