using Traceability.Simulator.Commands;
using Xunit;

namespace Traceability.Simulator.Tests;

public sealed class ArgumentsTests
{
    [Theory]
    [InlineData("--sed 5", "'--sed' is not an option here")]
    [InlineData("seed 5", "'seed' is not an option here")]
    [InlineData("--seed", "--seed needs a value")]
    [InlineData("--seed 1 --seed 2", "--seed is given twice")]
    public void What_is_not_an_option_is_said(string words, string message) =>
        Assert.Contains(message, Assert.Throws<ArgumentsException>(() => Read(words)).Message, StringComparison.Ordinal);

    [Fact]
    public void Values_are_read_and_bounded()
    {
        var arguments = Read("--seed 18446744073709551615 --finals 40 --now 2026-03-02T09:30:00+01:00 --url http://127.0.0.1:5080");
        Assert.Equal(ulong.MaxValue, arguments.Seed("seed", 1));
        Assert.Equal(40, arguments.Int("finals", 300, 40, 50));
        Assert.Equal(new DateTimeOffset(2026, 3, 2, 8, 30, 0, TimeSpan.Zero), arguments.Time("now"));
        Assert.Equal("http://127.0.0.1:5080/", arguments.Url("url").ToString());
        Assert.Throws<ArgumentsException>(() => arguments.Int("finals", 300, 41, 50));
        Assert.Throws<ArgumentsException>(() => arguments.Required("key"));
    }

    [Theory]
    [InlineData("2026-03-02T09:30:00")]
    [InlineData("yesterday")]
    [InlineData("2026-13-02T09:30:00Z")]
    public void A_time_needs_its_offset(string text) => Assert.Throws<ArgumentsException>(() => Read("--now " + text).Time("now"));

    [Theory]
    [InlineData("ftp://a")]
    [InlineData("127.0.0.1:5080")]
    public void A_service_is_reached_by_http(string text) => Assert.Throws<ArgumentsException>(() => Read("--url " + text).Url("url"));

    private static Arguments Read(string words) => Arguments.Read(words.Split(' '), "seed", "finals", "now", "url", "key");
}
