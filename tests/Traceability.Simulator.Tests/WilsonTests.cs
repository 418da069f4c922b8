using Traceability.Simulator.Truth;
using Xunit;

namespace Traceability.Simulator.Tests;

public sealed class WilsonTests
{
    [Theory]
    // Reference numbers of R 4.2.2, prop.test(correct = FALSE): own computation, no restriction.
    [InlineData(0, 1, 0, 0.793450685622763)]
    [InlineData(1, 1, 0.206549314377238, 1)]
    [InlineData(0, 10, 0, 0.277532799862889)]
    [InlineData(1, 20, 0.00888144880079538, 0.236131193446742)]
    [InlineData(4, 20, 0.0806576625797981, 0.416017432251894)]
    [InlineData(15, 148, 0.0623863995307363, 0.160487241723308)]
    [InlineData(81, 263, 0.255288519878274, 0.3662095769828)]
    [InlineData(26, 200, 0.0902820227966932, 0.183663518722484)]
    [InlineData(95, 100, 0.888249530768081, 0.978456320845632)]
    public void The_interval_is_that_of_the_reference(int good, int of, double lower, double upper)
    {
        var (low, high) = Wilson.Interval(good, of);
        Assert.Equal(lower, low, 1e-12);
        Assert.Equal(upper, high, 1e-12);
    }

    [Fact]
    public void The_one_sided_limit_is_that_of_the_handbook()
    {
        // NIST/SEMATECH e-Handbook, section 7.2.4.1: 26 defectives of 200, one-sided 95 % lower limit 0.09577 (z = 1.645).
        Assert.Equal(0.09577, Wilson.Interval(26, 200, 1.644853626951472).Lower, 5e-6);
    }

    [Fact]
    public void Nothing_counted_has_no_share_and_no_interval()
    {
        var none = new ShareAnswer(0, 0);
        Assert.Null(none.Value);
        Assert.Null(none.Interval);
    }
}
