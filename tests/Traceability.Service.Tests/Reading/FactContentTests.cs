using System.Text;
using System.Text.Json;
using Traceability.Contracts;
using Traceability.Service.Http.Reading;
using Xunit;

namespace Traceability.Service.Tests.Reading;

public sealed class FactContentTests
{
    /// <remarks>Source: RFC 8785, section 3.2.2 (string escapes) and 3.2.3 (order of members); numbers left out, since they differ by design.</remarks>
    [Fact]
    public void Members_are_sorted_and_escapes_are_shortest_as_in_RFC_8785()
    {
        const string Sent = """
            {
              "\u20ac": "Euro Sign",
              "\r": "Carriage Return",
              "\ufb33": "Hebrew Letter Dalet With Dagesh",
              "1": "One",
              "\ud83d\ude00": "Emoji: Grinning Face",
              "\u0080": "Control",
              "\u00f6": "Latin Small Letter O With Diaeresis",
              "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/"
            }
            """;

        Assert.Equal(
            "{\"\\r\":\"Carriage Return\",\"1\":\"One\",\"string\":\"€$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\",\"\u0080\":\"Control\",\"ö\":\"Latin Small Letter O With Diaeresis\",\"€\":\"Euro Sign\",\"😀\":\"Emoji: Grinning Face\",\"\uFB33\":\"Hebrew Letter Dalet With Dagesh\"}",
            Canonical(Sent));
    }

    [Theory]
    [InlineData("""{"a":1.5,"b":[1,2]}""", """ { "b" : [ 1, 2 ], "a" : 1.5 } """, true)]
    [InlineData("""{"a":1.5}""", """{"a":15e-1}""", true)]
    [InlineData("""{"a":1.5}""", """{"a":1.50}""", false)]
    [InlineData("""{"a":1}""", """{"a":"1"}""", false)]
    [InlineData("""{"a":1}""", """{"a":1,"factId":"x"}""", true)]
    [InlineData("""{"a":1}""", """{"a":1,"b":null,"c":[]}""", true)]
    [InlineData("""{"a":1}""", """{"a":1,"b":false}""", false)]
    [InlineData("""{"a":[1,2]}""", """{"a":[2,1]}""", false)]
    [InlineData("""{"a":{"factId":"x"}}""", """{"a":{}}""", false)]
    [InlineData("""{"a":"é"}""", """{"a":"\u00e9"}""", true)]
    public void The_same_content_has_the_same_hash_and_other_content_another(string one, string other, bool same) =>
        Assert.Equal(same, Hash(one).AsSpan().SequenceEqual(Hash(other)));

    [Theory]
    [InlineData("PT10M", 600_000)]
    [InlineData("P1DT12H", 129_600_000)]
    [InlineData("P2W", 1_209_600_000)]
    [InlineData("PT0.5S", 500)]
    [InlineData("PT1,5M", 90_000)]
    [InlineData("-PT75S", -75_000)]
    [InlineData("PT0S", 0)]
    public void A_duration_of_ISO_8601_is_read(string text, long milliseconds)
    {
        Assert.True(IsoDuration.TryParse(text, out var value));
        Assert.Equal(TimeSpan.FromMilliseconds(milliseconds), value);
        Assert.True(IsoDuration.TryParse(IsoDuration.Write(value), out var again));
        Assert.Equal(value, again);
    }

    [Theory]
    [InlineData("")]
    [InlineData("P")]
    [InlineData("PT")]
    [InlineData("P1DT")]
    [InlineData("P1M")]
    [InlineData("P1Y")]
    [InlineData("PT1M1H")]
    [InlineData("PT1.5H30M")]
    [InlineData("PT.5S")]
    [InlineData("PT0.00000001S")]
    [InlineData("10M")]
    [InlineData("PT-1S")]
    [InlineData("P10675200D")]
    [InlineData("00:10:00")]
    public void What_is_no_such_duration_is_not_read(string text) => Assert.False(IsoDuration.TryParse(text, out _));

    private static string Canonical(string json)
    {
        using var document = JsonDocument.Parse(Encoding.UTF8.GetBytes(json));
        return FactContent.Canonical(document.RootElement);
    }

    private static byte[] Hash(string json)
    {
        using var document = JsonDocument.Parse(json);
        return FactContent.Hash(document.RootElement);
    }
}
