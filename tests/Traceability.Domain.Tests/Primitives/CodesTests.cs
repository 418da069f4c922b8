using System.Text;
using System.Text.Json;
using CsCheck;
using Traceability.Domain.Primitives;
using Xunit;

namespace Traceability.Domain.Tests.Primitives;

/// <summary>How codes are read: as text and as UTF-8, by themselves and in stored JSON.</summary>
public sealed class CodesTests
{
    private static readonly Gen<string> Texts = Gen.OneOf(
        Gen.Char["AZaz09._+-"].Array[0, 45].Select(c => new string(c)),
        Gen.Char["A9./ é\u0000\uD800"].Array[0, 45].Select(c => new string(c)));

    [Fact]
    public void Utf8_is_read_as_the_same_text_is() =>
        Texts.Sample(text =>
        {
            var isCode = Codes.TryParse<StationCode>(text, out var fromText);
            Assert.Equal(isCode, Codes.TryParse<StationCode>(Encoding.UTF8.GetBytes(text), out var fromUtf8));
            Assert.Equal(fromText, fromUtf8);
        });

    [Theory]
    [InlineData(new byte[] { 0xC3 })]
    [InlineData(new byte[] { 0x41, 0xFF })]
    [InlineData(new byte[] { })]
    public void What_is_not_text_is_no_code(byte[] utf8) => Assert.False(Codes.TryParse<StationCode>(utf8, out _));

    [Fact]
    public void A_code_that_was_met_before_is_the_same_string_whatever_it_names()
    {
        Assert.True(Codes.TryParse<StationCode>("MET-BEFORE"u8, out var station));
        Assert.True(Codes.TryParse<ToolNumber>("MET-BEFORE"u8, out var tool));

        Assert.Same(station.Value, tool.Value);
    }

    [Theory]
    [InlineData("\"ST-1\"", "ST-1")]
    [InlineData("\"ST\\u002D1\"", "ST-1")]
    [InlineData("5", null)]
    [InlineData("true", null)]
    [InlineData("null", null)]
    [InlineData("{}", null)]
    [InlineData("\"\"", null)]
    [InlineData("\"ST 1\"", null)]
    [InlineData("\"..\"", null)]
    public void Stored_json_holds_a_code_as_a_text_and_as_nothing_else(string json, string? code)
    {
        if (code is null)
        {
            Assert.ThrowsAny<JsonException>(() => JsonSerializer.Deserialize<StationCode>(json));
        }
        else
        {
            Assert.Equal(code, JsonSerializer.Deserialize<StationCode>(json).Value);
            Assert.Equal(code, JsonSerializer.Deserialize<Dictionary<StationCode, int>>($$"""{{{json}}:1}""")!.Keys.Single().Value);
        }
    }
}
