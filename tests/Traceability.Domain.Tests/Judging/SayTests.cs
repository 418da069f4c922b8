using Traceability.Domain.Judging;
using Xunit;

namespace Traceability.Domain.Tests.Judging;

public sealed class SayTests
{
    [Theory]
    [InlineData(0, "0 s")]
    [InlineData(180, "3 min")]
    [InlineData(907.5, "15 min 7.5 s")]
    [InlineData(93_600, "1 d 2 h")]
    [InlineData(-61, "-1 min 1 s")]
    public void A_duration_is_written_for_a_person(double seconds, string text) => Assert.Equal(text, Say.Span(TimeSpan.FromSeconds(seconds)));
}
