using CsCheck;
using Traceability.Domain.Statistics;
using Xunit;

namespace Traceability.Domain.Tests.Statistics;

public sealed class PropagatedUncertaintyTests
{
    /// <remarks>
    /// Source: JCGM 100:2008, annex H.1 (end-gauge calibration), table H.1 and H.1.4: standard uncertainties 25 nm of the standard,
    /// 5.8, 3.9 and 6.7 nm that make 9.7 nm of the difference, 0.58e-6 per degree with sensitivity l·θ (50 mm, 0.1 degree), 0.029 degree with sensitivity l·α (11.5e-6 per degree);
    /// combined 32 nm. Read in public reproductions of the example; the last digits from memory.
    /// </remarks>
    [Fact]
    public void The_end_gauge_of_the_guide_has_32_nanometres()
    {
        var difference = PropagatedUncertainty.Combine([5.8, 3.9, 6.7]);
        var combined = PropagatedUncertainty.Combine([25d, difference, 50e6 * 0.1 * 0.58e-6, -50e6 * 11.5e-6 * 0.029]);

        Assert.Equal(9.7, difference, 1);
        Assert.Equal(32, Math.Round(combined));
        Assert.Equal(2.9, 50e6 * 0.1 * 0.58e-6, 1);
        Assert.Equal(31.7, combined, 1);
    }

    [Fact]
    public void Nothing_has_none_and_one_has_its_own()
    {
        Assert.Equal(0, PropagatedUncertainty.Combine([]));
        Assert.Equal(0, PropagatedUncertainty.Combine([0, 0]));
        Assert.Equal(2.5, PropagatedUncertainty.Combine([-2.5]));
        Assert.Equal(13, PropagatedUncertainty.Combine([3, 4, 12]), 12);
    }

    [Fact]
    public void Neither_the_very_large_nor_the_very_small_is_lost()
    {
        Assert.Equal(5e200, PropagatedUncertainty.Combine([3e200, 4e200]), 1e188);
        Assert.Equal(5e-200, PropagatedUncertainty.Combine([4e-200, 3e-200]), 1e-212);
    }

    [Fact]
    public void It_is_the_root_of_the_sum_of_squares_in_any_order_and_never_below_its_largest_part() => Gen.Double[-1e6, 1e6].Array[0, 12].Sample(parts =>
    {
        var combined = PropagatedUncertainty.Combine(parts);
        Assert.Equal(Math.Sqrt(parts.Sum(p => p * p)), combined, 1e-6);
        Assert.Equal(combined, PropagatedUncertainty.Combine(parts.Reverse()), 1e-6);
        Assert.True(combined >= parts.Select(Math.Abs).DefaultIfEmpty().Max() * (1 - 1e-12));
    });
}
