using System.Net.Http.Headers;
using System.Text;

namespace Traceability.Acceptance.Nonconformances;

/// <summary>Small whole files.</summary>
internal static class Files
{
    /// <summary>A picture of one grey point; different for each number.</summary>
    public static byte[] Png(int number = 0) =>
    [
        .. Convert.FromHexString("89504E470D0A1A0A0000000D4948445200000001000000010800000000" + "3A7E9B55"),
        .. Convert.FromHexString("0000000A49444154789C6360000000020001E221BC33"),

        // A text chunk, whose checksum no reader of the form looks at.
        .. Convert.FromHexString("0000000474455874"), .. BitConverter.GetBytes(number), 0, 0, 0, 0,
        .. Convert.FromHexString("0000000049454E44AE426082"),
    ];

    /// <summary>Uploads a content.</summary>
    public static async Task<HttpResponseMessage> UploadAsync(HttpClient client, byte[] content, string mediaType)
    {
        using var request = new HttpRequestMessage(HttpMethod.Post, "/api/attachments") { Content = new ByteArrayContent(content) };
        request.Content.Headers.ContentType = MediaTypeHeaderValue.Parse(mediaType);

        // A body that is refused by its length need not be sent.
        request.Headers.ExpectContinue = true;
        return await client.SendAsync(request);
    }

    /// <summary>The bytes of a text.</summary>
    public static byte[] Text(string text) => Encoding.UTF8.GetBytes(text);
}
